"""The invented utility of the demo: of the size that was asked for, fit to be imported, like a real one."""

import csv
import math
import os
import re
import statistics
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from frictionless import Package

from circuits import checks, enumerations, importer, packagefile
from circuits.assemble import to_network
from circuits.checks import Checked
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.trace import Answer, Trace, trace
from circuits.package import TABLE
from circuits.utility.build import build
from tests.circuits.conftest import DEMO
from tests.conftest import ROOT

Rows = dict[str, list[dict[str, Any]]]


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("utility")
    build(folder, 3000)
    return folder


@pytest.fixture(scope="module")
def checked(package: Path) -> Checked:
    return checks.check(packagefile.read(package))


@pytest.fixture(scope="module")
def rows(checked: Checked) -> Rows:
    return {name: [row.values for row in found] for name, found in checked.rows.items()}


@pytest.fixture(scope="module")
def compiled(rows: Rows) -> Compiled:
    return compile_network(to_network(rows))


@pytest.fixture(scope="module")
def normal(compiled: Compiled) -> Trace:
    return trace(compiled, normally_open(compiled.network))


def opened(compiled: Compiled, *devices: str) -> Trace:
    """The trace with these devices open beside those that always are."""
    return trace(compiled, normally_open(compiled.network) | dict.fromkeys(devices, "ABC"))


@pytest.fixture(scope="module")
def served(compiled: Compiled, rows: Rows) -> dict[str, set[str]]:
    """The nodes that go out with each feeder's breaker."""
    return {
        circuit["circuit_id"]: {
            load["node_id"]
            for load in rows["loads"]
            if state.answer(load["node_id"], load["phases"][0]) is not Answer.ENERGIZED
        }
        for circuit in rows["circuits"]
        for state in [opened(compiled, f"B-{circuit['circuit_id']}")]
    }


def test_the_package_has_no_faults_and_no_warnings(checked: Checked) -> None:
    assert [str(fault) for fault in checked.faults] == []
    assert checked.warnings == []


def test_a_data_package_library_finds_it_valid(package: Path) -> None:
    """Frictionless, the reference library of the Data Package standard (https://datapackage.org)."""
    report = Package(str(package / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])[:5]
    assert report.stats["tasks"] == len(TABLE)


@pytest.mark.parametrize("customers", [1000, 1777, 7300])
def test_it_has_exactly_as_many_customers_as_asked_for(customers: int, tmp_path: Path) -> None:
    call_command("build_demo", str(tmp_path), customers=customers, verbosity=0)
    found = checks.check(packagefile.read(tmp_path))
    assert len(found.rows["premises"]) == customers
    assert not found.faults


def test_too_small_a_utility_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="1000"):
        call_command("build_demo", str(tmp_path / "new"), customers=999)
    assert not (tmp_path / "new").exists()


def test_another_run_gives_the_same_bytes(package: Path, tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "manage.py", "build_demo", str(tmp_path)],
        cwd=ROOT,
        env=os.environ | {"PYTHONHASHSEED": "7"},
        check=True,
        capture_output=True,
    )
    names = sorted(file.name for file in package.iterdir())
    assert names == sorted(file.name for file in tmp_path.iterdir())
    assert [name for name in names if (package / name).read_bytes() != (tmp_path / name).read_bytes()] == []


@pytest.mark.parametrize("table", sorted(file.stem for file in DEMO.glob("*.csv")))
def test_the_hand_written_package_is_in_it_byte_for_byte(package: Path, table: str) -> None:
    lines = (package / f"{table}.csv").read_bytes().splitlines(keepends=True)
    written = (DEMO / f"{table}.csv").read_bytes().splitlines(keepends=True)
    assert lines[: len(written)] == written


@pytest.mark.usefixtures("demo_network")
def test_to_import_it_over_the_hand_written_one_only_adds(checked: Checked) -> None:
    outcome = importer.import_network(checked=checked)
    assert outcome.revision is not None
    assert not any(outcome.changes.changed.values())
    assert not any(outcome.changes.removed.values())
    assert len(outcome.changes.added["premises"]) == 3000 - 198


def test_everything_is_energized_from_one_station_in_normal_position(
    rows: Rows, compiled: Compiled, normal: Trace
) -> None:
    on_purpose = {node["node_id"] for node in rows["nodes"] if node["out_of_service"]}
    kept_apart = {row["node_id"] for row in rows["sources"] if row["means_of_disconnection"] == "interlocked"}
    assert on_purpose == kept_apart
    for node, phase in compiled.points:
        if node not in on_purpose:
            assert normal.answer(node, phase) is Answer.ENERGIZED, (node, phase)
            assert len(normal.sources(node, phase)) == 1, (node, phase)
    assert {state.answer for state in normal.premises().values()} == {Answer.ENERGIZED}


def test_feeders_are_tied_within_a_station_and_across_stations(
    rows: Rows, compiled: Compiled, normal: Trace
) -> None:
    ties = [
        row for row in rows["devices"] if row["kind"] == "gang_switch" and row["normal_position"] == "open"
    ]
    across = Counter(
        normal.sources(row["from_node"], "A") != normal.sources(row["to_node"], "A") for row in ties
    )
    assert across[False] >= 2
    assert across[True] >= 2
    for row in ties:
        for circuit in re.findall(r"\d+", row["label"]):
            state = opened(compiled, f"B-{circuit}")
            on = [state.answer(row[end], "A") is Answer.ENERGIZED for end in ("from_node", "to_node")]
            assert on.count(True) == 1, row


def test_the_stations_are_kept_apart_by_ties_alone(rows: Rows, compiled: Compiled) -> None:
    """So the test above sees what it claims to see: with the ties closed the stations are joined."""
    closed = {
        row["device_id"]
        for row in rows["devices"]
        if row["kind"] == "gang_switch" and row["normal_position"] == "open"
    }
    still_open = {
        device: phases for device, phases in normally_open(compiled.network).items() if device not in closed
    }
    assert trace(compiled, still_open).sources("B-12", "A") == ("ST-1", "ST-2")


def test_every_kind_of_thing_is_in_it(rows: Rows) -> None:
    def kinds(table: str, column: str) -> set[str]:
        return {row[column] for row in rows[table]}

    assert kinds("devices", "kind") == set(enumerations.DEVICE_KINDS)
    assert kinds("devices", "operation") == set(enumerations.OPERATIONS)
    assert kinds("transformers", "connection") == {
        "single",
        "phase_to_phase",
        "wye_grounded-wye_grounded",
        "wye-wye",
        "wye_grounded-delta",
        "delta-wye_grounded",
        "open_wye-open_delta",
    }
    assert kinds("capacitors", "connection") == {"wye_grounded", "wye"}
    assert kinds("structures", "kind") == {"pole", "pad", "cabinet", "station"}
    assert kinds("lines", "placement") == {"overhead", "underground"}
    assert {len(row["phases"]) for row in rows["lines"]} == {1, 2, 3}
    assert kinds("sources", "kind") == {"station", "inverter", "standby"}
    assert kinds("sources", "means_of_disconnection") == set(enumerations.MEANS_OF_DISCONNECTION)
    assert kinds("premises", "care") == set(enumerations.CARES)
    assert kinds("contacts", "channel") >= {"email", "voice", "post"}
    assert len(kinds("premises", "language")) == 5
    assert len(rows["regulators"]) >= 3
    assert any(row["unit"] for row in rows["premises"])


def test_what_a_device_does_by_itself_is_always_said(rows: Rows) -> None:
    """An empty cell counts as the worse case, so an exporter that leaves out false makes cutouts reclose."""
    for row in rows["devices"]:
        by_itself = row["kind"] in ("breaker", "recloser")
        assert row["recloses"] is by_itself, row
        assert row["remote"] in (True, False), row
        assert row["visible_break"] in (True, False), row


def test_the_hospital_has_two_feeds_of_two_stations(rows: Rows, compiled: Compiled, normal: Trace) -> None:
    hospital = next(row for row in rows["premises"] if row["second_transformer_id"])
    feeds = [
        compiled.network.transformer[hospital[name]] for name in ("transformer_id", "second_transformer_id")
    ]
    assert [normal.sources(feed.secondary_node, "A") for feed in feeds] == [("ST-1",), ("ST-2",)]
    assert hospital["care"] == "critical"
    assert hospital["transfer"] == "automatic"
    key = hospital["premises_id"]
    for breaker in ("B-14", "B-24"):
        assert not opened(compiled, breaker).premises()[key].out
    assert opened(compiled, "B-14", "B-24").premises()[key].out


def test_feeders_have_500_to_1500_customers_and_each_load_hangs_on_one(
    rows: Rows, served: dict[str, set[str]]
) -> None:
    node = {row["transformer_id"]: row["secondary_node"] for row in rows["transformers"]}
    at = Counter(node[row["transformer_id"]] for row in rows["premises"])
    counts = {circuit: sum(at[name] for name in nodes) for circuit, nodes in served.items()}
    assert len(counts) == 5
    assert all(500 <= count <= 1500 for count in counts.values()), counts
    assert sum(counts.values()) == 3000
    assert sum(len(nodes) for nodes in served.values()) == len(rows["loads"])


def test_loads_are_plausible(rows: Rows, served: dict[str, set[str]]) -> None:
    """A utility's peak is one to five kVA a customer (common practice); what carries it is not overloaded."""
    kva = {row["node_id"]: math.hypot(row["kw"], row["kvar"]) for row in rows["loads"]}
    assert 1 < sum(kva.values()) / 3000 < 5
    for row in rows["transformers"]:
        assert kva.get(row["secondary_node"], 0) <= row["kva"], row
    for circuit, nodes in served.items():
        amperes = sum(kva[node] for node in nodes) / (math.sqrt(3) * 12.47)
        assert 50 < amperes < 400, circuit  # normal_limit_a
    for station, capacity in [
        (row["source_id"], row["capacity_kva"]) for row in rows["sources"] if row["kv"] == 12.47
    ]:
        load = sum(
            kva[node] for circuit, nodes in served.items() if circuit[0] == station[-1] for node in nodes
        )
        assert 0.2 < load / float(capacity) < 1, station


def test_customers_a_transformer_in_town_and_in_the_country(rows: Rows) -> None:
    """6 to 10 in town and fewer where farms lie far apart (common practice)."""
    at = Counter(row["transformer_id"] for row in rows["premises"])
    road = {row["code"] for row in rows["conductors"] if row["code"] == "2 ACSR"}
    country = {row["from_node"] for row in rows["lines"] if row["conductor"] in road}
    near = {row["transformer_id"] for row in rows["transformers"] if row["structure_id"] in country}
    single = [row["transformer_id"] for row in rows["transformers"] if row["connection"] == "single"]
    assert statistics.mean(at[one] for one in near) < 3
    in_town = [at[one] for one in single if at[one] > 3]
    assert 6 <= statistics.mean(in_town) <= 10
    assert len(in_town) > len(single) / 4


def test_numbers_look_alike_here_and_there(rows: Rows) -> None:
    """C-1208 and C-1280, or a pole that was set later: what is read at the pole must be read to the end."""
    cutouts = [row["device_id"] for row in rows["devices"] if row["kind"] == "cutout"]
    same_digits = Counter("".join(sorted(one)) for one in cutouts)
    assert sum(count for count in same_digits.values() if count > 1) > 100
    labels = Counter(row["label"].rstrip("A") for row in rows["structures"] if row["kind"] == "pole")
    assert sum(count > 1 for count in labels.values()) > 10


def test_addresses_and_meters_are_unique_and_names_are_varied(rows: Rows) -> None:
    premises = rows["premises"]
    for name in ("meter", "premises_id"):
        assert len({row[name] for row in premises}) == len(premises)
    assert len({(row["address"], row["unit"], row["locality"]) for row in premises}) == len(premises)
    assert len({row["name"] for row in premises}) > 0.7 * len(premises)
    assert len({row["street"] for row in rows["structures"]}) > 100


def test_wires_are_as_long_as_their_ends_are_apart(rows: Rows) -> None:
    """Checked against the length of a degree on the WGS 84 ellipsoid at 41.5 degrees north: 111.06 km of
    latitude, 83.49 km of longitude (from memory, NGA's degree calculator), to 1 % and a metre."""
    place = {
        row["structure_id"]: (float(row["latitude"]), float(row["longitude"])) for row in rows["structures"]
    }
    stands = {row["node_id"]: row["structure_id"] for row in rows["nodes"]}
    for line in rows["lines"]:
        (north, east), (north_, east_) = place[stands[line["from_node"]]], place[stands[line["to_node"]]]
        apart = math.hypot((north_ - north) * 111_060, (east_ - east) * 83_490)
        assert float(line["length_m"]) == pytest.approx(apart, rel=0.01, abs=1), line


def test_conductors_have_the_resistance_of_the_published_wire(package: Path) -> None:
    """Ohm a mile of 4/0 and 2 AWG ACSR 6/1: 0.592 and 1.69, as in the wire data of the IEEE test feeders
    (OpenDSS, IEEELineGeometry.dss), a table of its own beside their phase matrices."""
    with (package / "conductors.csv").open(newline="") as file:
        r1 = {row["code"]: float(row["r1"]) * 1.609344 for row in csv.DictReader(file)}
    assert r1["4/0 ACSR"] == pytest.approx(0.592, rel=1e-3)
    assert r1["2 ACSR"] == pytest.approx(1.69, rel=1e-3)
