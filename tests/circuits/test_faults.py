"""Every fault of a package is named with its place and what was expected, and nothing is written."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from circuits import checks, findings, importer, packagefile
from circuits.models import Node
from tests.circuits.conftest import DEMO
from tests.circuits.packages import Edit, Rows, changed, edited, idle, load, refused, row_of, without

pytestmark = pytest.mark.django_db


class TestFaults:
    """Each fault by table, row, column, value and what was expected; all of them; and nothing is written."""

    @pytest.mark.parametrize(
        ("table", "key", "values", "complaint"),
        [
            ("circuits", "12", {"grounding": "solid"}, '"solid"; expected one of multigrounded_wye'),
            ("circuits", "12", {"name": ""}, "column name: nothing; expected a text"),
            ("circuits", "12", {"nominal_kv": "0"}, '"0"; expected a number above zero'),
            ("structures", "P-214", {"latitude": "91"}, '"91"; expected a number from -90 to 90'),
            ("nodes", "P-214", {"nominal_kv": "12,47"}, '"12,47"; expected a number above zero'),
            ("nodes", "P-214", {"phases": "CBA"}, '"CBA"; expected letters of ABC in that order'),
            ("nodes", "P-214", {"out_of_service": "yes"}, '"yes"; expected true or false'),
            ("nodes", "P-214", {"structure_id": "P-999"}, '"P-999"; expected the id of a row of'),
            (
                "conductors",
                "336 ACSR",
                {"r_matrix": "1|2 x"},
                "expected numbers parted by blanks, rows parted by |",
            ),
            ("lines", "L-214-215", {"conductor": "wire"}, "expected the id of a row of conductors"),
            ("lines", "L-214-215", {"length_m": "-3"}, '"-3"; expected a number above zero'),
            ("lines", "L-214-215", {"to_node": "P-214"}, '"P-214"; expected another node than'),
            (
                "lines",
                "L-214-215",
                {"to_node": "T-210s"},
                "expected phases of node T-210s, which has no B, C",
            ),
            (
                "lines",
                "L-252-253",
                {"to_node": "T-253s"},
                "expected a node at 12.47 kV, as from_node; this one is at 0.24",
            ),
            ("devices", "F-212", {"normal_position": "AB"}, "expected phases of the device, which has B"),
            ("devices", "F-212", {"normal_position": "shut"}, "expected closed, open, or the letters of"),
            (
                "devices",
                "S-217",
                {"to_node": "T-220s"},
                "expected a tie of like phases: T-217s derives from B, T-220s",
            ),
            ("transformers", "T-210", {"phases": "AB"}, "expected 1 of A, B, C for single"),
            ("transformers", "T-210", {"phases": "B"}, "expected phases of node P-210t, which has no B"),
            (
                "transformers",
                "T-210",
                {"secondary_node": "T-212s"},
                "expected a node whose phases are the primary's A",
            ),
            (
                "transformers",
                "T-210",
                {"secondary_node": "P-210t"},
                "expected another node than primary_node",
            ),
            ("transformers", "T-218", {"unit_kva": "3 x 25"}, "expected numbers parted by blanks"),
            (
                "capacitors",
                "CAP-277",
                {"node_id": "T-210s"},
                "expected phases of node T-210s, which has no B, C",
            ),
            ("sources", "GEN-219", {"phases": "C"}, "expected phases of node GEN-219, which has no C"),
            ("premises", "1140", {"transformer_id": "T-999"}, "expected the id of a row of transformers"),
            ("premises", "1140", {"phases": "A"}, "expected phases of node T-213s, which has no A"),
            (
                "premises",
                "1140",
                {"second_transformer_id": "T-213"},
                "expected another transformer than the first",
            ),
            ("contacts", "1001", {"rank": "1.5"}, '"1.5"; expected a whole number above zero'),
            ("contacts", "1001", {"rank": "9" * 12}, "expected a whole number above zero"),
            ("contacts", "1001", {"address": "x" * 201}, "expected a text of at most 200 characters"),
            ("lines", "L-214-215", {"length_m": "4" * 41}, "expected a number above zero"),
            ("structures", "P-214", {"street": "Quarry\0Lane"}, "expected a text"),
        ],
    )
    def test_one_row(
        self, tmp_path: Path, table: str, key: str, values: dict[str, str], complaint: str
    ) -> None:
        package = edited(tmp_path, **{table: changed(key, **values)})
        found = [line for line in refused(package) if complaint in line]
        assert len(found) == 1
        assert found[0].startswith(f"{table}, row {row_of(package, table, key)}, column ")

    def test_all_are_named_in_the_order_of_the_files_with_a_count(self, tmp_path: Path) -> None:
        package = edited(
            tmp_path,
            devices=changed("C-221", kind="knife"),
            lines=changed("L-214-215", length_m="", placement="air"),
            circuits=changed("14", grounding=""),
        )
        lines = refused(package)
        assert [line.split(":")[0] for line in lines[:-1]] == [
            "circuits, row 3, column grounding",
            f"lines, row {row_of(package, 'lines', 'L-214-215')}, column length_m",
            f"lines, row {row_of(package, 'lines', 'L-214-215')}, column placement",
            f"devices, row {row_of(package, 'devices', 'C-221')}, column kind",
        ]
        assert lines[-1] == "4 faults; nothing was changed."
        assert not Node.objects.exists()

    def test_twenty_five_different_ones_at_once(self, tmp_path: Path) -> None:
        """Cells, keys, references and electricity together: each by table, row and column, in order."""
        planted: dict[str, dict[str, dict[str, str]]] = {
            "circuits": {"12": {"name": ""}, "14": {"grounding": "solid"}},
            "structures": {"P-214": {"latitude": "91"}, "P-215": {"kind": "tree"}},
            "nodes": {
                "P-214": {"nominal_kv": "0"},
                "P-253t": {"out_of_service": "yes"},
                "P-286": {"structure_id": "P-999"},
            },
            "conductors": {"336 ACSR": {"r_matrix": "1|2 x"}},
            "lines": {
                "L-252-253": {"length_m": "-3"},
                "L-284-285": {"conductor": "wire"},
                "L-285-286": {"to_node": "P-285"},
                "L-286-287": {"placement": "air"},
            },
            "devices": {
                "C-208": {"kind": "knife"},
                "C-221": {"recloses": "True"},
                "F-212": {"normal_position": "AB"},
                "S-217": {"operation": "both"},
            },
            "transformers": {
                "T-203": {"connection": "star"},
                "T-210": {"secondary_node": "P-210t"},
                "T-218": {"unit_kva": "3 x 25"},
            },
            "sources": {"GEN-219": {"device_id": "D-999"}, "INV-212": {"phases": "C"}},
            "premises": {
                "1140": {"transformer_id": "T-999"},
                "1141": {"second_transformer_id": "T-213"},
                "1142": {"care": "much"},
            },
            "contacts": {"1001": {"rank": "1.5"}},
        }

        def spoil(wrong: dict[str, dict[str, str]]) -> Edit:
            return lambda rows: [row | wrong.get(next(iter(row.values())), {}) for row in rows]

        package = edited(tmp_path, **{table: spoil(wrong) for table, wrong in planted.items()})
        expected = [
            f"{table}, row {row_of(package, table, ident)}, column {column}"
            for table, wrong in planted.items()
            for ident, cells in wrong.items()
            for column in cells
        ]
        assert len(expected) == 25
        lines = refused(package)
        assert [line.split(":")[0] for line in lines[:-1]] == expected
        assert lines[-1] == "25 faults; nothing was changed."
        assert not Node.objects.exists()

    def test_an_id_twice(self, tmp_path: Path) -> None:
        lines = refused(edited(tmp_path, circuits=lambda rows: [*rows, rows[0]]))
        assert (
            'circuits, row 3, column circuit_id: "12"; expected what is in no other row (row 2 has it)'
            in lines
        )

    def test_a_node_that_nothing_feeds(self, tmp_path: Path) -> None:
        lines = refused(edited(tmp_path, lines=without(line_id="L-252-253")))
        assert [line.split("; expected ")[1] for line in lines[:-1]] == [
            "a way from a source to B in normal position, or out_of_service true"
        ] * 3

    def test_a_node_out_of_service_needs_no_source(self, tmp_path: Path) -> None:
        load(edited(tmp_path, lines=without(line_id="L-252-253"), nodes=idle))

    def test_stations_joined_in_normal_position_are_a_warning(self, tmp_path: Path) -> None:
        second = {
            "source_id": "ST-2",
            "node_id": "P-286",
            "kind": "station",
            "phases": "ABC",
            "means_of_disconnection": "visible",
        }
        package = edited(tmp_path, sources=lambda rows: [*rows, dict.fromkeys(rows[0], "") | second])
        assert "warning: sources ST-1, ST-2 are joined in normal position, for example at node" in load(
            package
        )


class TestFiles:
    """What is wrong with the files themselves."""

    def test_an_unknown_column_or_table_is_left_out_with_a_warning(self, tmp_path: Path) -> None:
        package = edited(tmp_path)
        text = (package / "circuits.csv").read_text().splitlines()
        (package / "circuits.csv").write_text(
            "\n".join(line + (",colour" if n == 0 else ",red") for n, line in enumerate(text))
        )
        described = (package / "datapackage.json").read_text()
        (package / "datapackage.json").write_text(
            described.replace('"resources": [', '"resources": [{"name": "weather", "path": "weather.csv"},')
        )
        said = load(package)
        assert "warning: circuits: unknown column colour, left out" in said
        assert "warning: weather: not a table of a network package, left out" in said

    @pytest.mark.parametrize(
        ("file", "content", "complaint"),
        [
            (
                "circuits.csv",
                b"circuit_id,name\r\n",
                "circuits, row 1, column nominal_kv: nothing; expected a column",
            ),
            ("circuits.csv", b"circuit_id,circuit_id\r\n", '"circuit_id"; expected each column once'),
            (
                "circuits.csv",
                b"circuit_id,name,nominal_kv,grounding\r\n12\r\n",
                'row 2: "1 cells"; expected 4 cells',
            ),
            ("circuits.csv", b"\xff\xfe", 'circuits: "circuits.csv"; expected UTF-8 text'),
            ("circuits.csv", b'circuit_id\r\n"12"x\r\n', "expected CSV as in RFC 4180"),
            (
                "circuits.csv",
                b"",
                "circuits, row 1, column circuit_id: nothing; expected a column of this name",
            ),
            ("circuits.csv", None, 'circuits: "circuits.csv"; expected a file of this name'),
            ("datapackage.json", b"{}", "datapackage.json: nothing; expected a file that lists the tables"),
            ("datapackage.json", b"[", "expected JSON that lists the tables"),
            ("datapackage.json", b'{"resources": []}', "circuits: nothing; expected a table of this name"),
            ("datapackage.json", None, "datapackage.json: nothing; expected a file that lists the tables"),
            (
                "datapackage.json",
                b'{"resources": [{"name": "nodes", "path": "../nodes.csv"}]}',
                'nodes: "../nodes.csv"; expected a path inside the package',
            ),
            (
                "datapackage.json",
                b'{"resources": [{"name": "lines", "path": "lines.csv"}, {"name": "lines", "path": "l"}]}',
                'lines: "l"; expected each table once',
            ),
            (
                "datapackage.json",
                b'{"resources": [{"name": "nodes", "path": "n\\u0000\\ud800.csv"}]}',
                'nodes: "n\ufffd?.csv"; expected a file of this name',
            ),
            ("datapackage.json", b"[" * 100_000, "expected JSON that lists the tables"),
        ],
    )
    def test_files_that_are_no_package(
        self, tmp_path: Path, file: str, content: bytes | None, complaint: str
    ) -> None:
        package = edited(tmp_path)
        (package / file).unlink()
        if content is not None:
            (package / file).write_bytes(content)
        assert [line for line in refused(package) if complaint in line]

    def test_neither_folder_nor_zip(self, tmp_path: Path) -> None:
        (tmp_path / "network").write_text("12")
        assert "expected a folder or a zip file" in refused(tmp_path / "network")[0]

    @pytest.mark.parametrize(
        "spoil", [lambda zipped: zipped[:-40], lambda zipped: zipped.replace(b"ABC", b"CBA")]
    )
    def test_a_zip_that_is_damaged(self, tmp_path: Path, spoil: Callable[[bytes], bytes]) -> None:
        path = tmp_path / "network.zip"
        with zipfile.ZipFile(path, "w") as archive:
            for file in DEMO.iterdir():
                archive.write(file, file.name)
        path.write_bytes(spoil(path.read_bytes()))
        assert "expected a folder or a zip file, whole and not encrypted" in refused(path)[0]

    def test_a_zip_of_which_too_much_would_be_unpacked(self, tmp_path: Path) -> None:
        path = tmp_path / "network.zip"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("datapackage.json", '{"resources": [{"name": "nodes", "path": "nodes.csv"}]}')
            archive.writestr("nodes.csv", b"0" * 101_000_000)
        assert path.stat().st_size < 200_000
        assert refused(path)[0] == 'the package: "101 MB"; expected at most 100 MB when unpacked'

    def test_a_zip_with_more_rows_than_a_network_can_have(self, tmp_path: Path) -> None:
        path = tmp_path / "network.zip"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("datapackage.json", '{"resources": [{"name": "nodes", "path": "nodes.csv"}]}')
            archive.writestr("nodes.csv", b"1\n" * 2_000_001)
        assert refused(path)[0] == 'the package: "2000001 rows"; expected at most 2000000 rows'

    def test_nothing_there(self, tmp_path: Path) -> None:
        assert refused(tmp_path / "no") == [f"{tmp_path / 'no'} can't be read: No such file or directory."]


def test_a_table_that_the_demo_has_no_rows_for(tmp_path: Path) -> None:
    package = edited(tmp_path)
    described = json.loads((package / "datapackage.json").read_text())
    described["resources"].append({"name": "loads", "path": "loads.csv"})
    (package / "datapackage.json").write_text(json.dumps(described))
    header = "load_id,node_id,phases,connection,kw,kvar,model\r\n"
    (package / "loads.csv").write_text(header + "K-1,T-210s,A,delta,3,1,power\r\n")
    assert refused(package)[0] == (
        'loads, row 2, column connection: "delta"; expected wye, since the load has one phase'
    )
    (package / "loads.csv").write_text(header + "K-1,T-210s,A,wye,3,1,power\r\n")
    assert "loads: 1 rows, 1 new, 0 changed, 0 left out" in load(package)


def test_an_import_does_not_take_a_package_with_faults(tmp_path: Path) -> None:
    checked = checks.check(packagefile.read(edited(tmp_path, circuits=changed("12", name=""))))
    with pytest.raises(ValueError, match="the package has 1 faults"):
        importer.import_network(checked=checked)


@pytest.mark.parametrize(
    "wrong",
    [
        "", " ", "\0", "\r\n", '"', "a,b", "x" * 201, "💥", "\u202e", "NaN", "INF", "²", "٣", "1_000",
        "0x10", "1e999", "-1e999", "1e-999", "1e9999", "9" * 41, "true", "TRUE", "ABC", "ACB", "P-214",
        "C-208", "12",
    ],
)  # fmt: skip
def test_whatever_stands_in_any_cell_is_judged_and_can_be_shown(tmp_path: Path, wrong: str) -> None:
    """Each column of each table has it once, in a row of its own."""

    def spoil(rows: Rows) -> Rows:
        return [
            row | {name: wrong for place, name in enumerate(row) if place == number}
            for number, row in enumerate(rows)
        ]

    tables = [path.stem for path in DEMO.glob("*.csv")]
    checked = checks.check(packagefile.read(edited(tmp_path, **dict.fromkeys(tables, spoil))))
    assert checked.faults
    shown = json.dumps(findings.of_faults(checked), ensure_ascii=False).encode().decode()
    assert "\\u0000" not in shown
