"""The published schemas, the demo and our checks against the library of the standard.

Standard: Data Package and Table Schema (https://datapackage.org), by the `frictionless` library. What a Table
Schema can say of cells, keys and references is compared; it knows no electricity.
"""

from pathlib import Path

import pytest
from frictionless import Package

from circuits import checks, packagefile
from circuits.package import TABLES, descriptor
from tests.circuits.conftest import DEMO
from tests.circuits.packages import Edit, Rows, edited, row_of

# Table, id of the row, column, what is planted there. Nothing refers to these rows, so each is one fault.
PLANTED = (
    ("circuits", "14", "name", ""),
    ("circuits", "12", "grounding", "solid"),
    ("structures", "P-214", "latitude", "91"),
    ("structures", "P-215", "longitude", "-180.5"),
    ("structures", "P-216", "kind", "tree"),
    ("structures", "P-217", "latitude", "41,5"),
    ("nodes", "P-214", "nominal_kv", "0"),
    ("nodes", "P-215", "phases", "CBA"),
    ("nodes", "P-216", "out_of_service", "yes"),
    ("nodes", "P-217", "structure_id", "P-999"),
    ("nodes", "P-218", "phases", ""),
    ("conductors", "336 ACSR", "r_matrix", "1|2 x"),
    ("conductors", "1/0 ACSR", "r1", "one"),
    ("lines", "L-214-215", "conductor", "wire"),
    ("lines", "L-215-216", "length_m", "-3"),
    ("lines", "L-216-217", "to_node", "P-999"),
    ("lines", "L-217-218", "placement", "air"),
    ("devices", "F-212", "normal_position", "shut"),
    ("devices", "C-221", "kind", "knife"),
    ("devices", "C-208", "recloses", "True"),
    ("transformers", "T-218", "unit_kva", "3 x 25"),
    ("transformers", "T-210", "kva", ""),
    ("sources", "GEN-219", "source_id", ""),
    ("sources", "INV-212", "device_id", "D-999"),
    ("sources", "ST-1", "means_of_disconnection", "none of them"),
    ("premises", "1140", "transformer_id", "T-999"),
    ("premises", "1141", "phases", "AA"),
    ("premises", "1142", "care", "much"),
    ("contacts", "1001", "rank", "1.5"),
    ("contacts", "1002", "rank", "0"),
    ("contacts", "1003", "channel", "pigeon"),
    ("contacts", "1004", "address", "x" * 201),
)
TWICE = "K-277"


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo package with all of these faults, and one device twice."""

    def edit(table: str) -> Edit:
        def spoil(rows: Rows) -> Rows:
            key = next(iter(rows[0]))
            wrong = {ident: {column: value} for name, ident, column, value in PLANTED if name == table}
            again = [row for row in rows if table == "devices" and row[key] == TWICE]
            return [row | wrong.get(row[key], {}) for row in [*rows, *again]]

        return spoil

    folder = tmp_path_factory.mktemp("spoilt")
    return edited(folder, **{table: edit(table) for table in {table for table, *_ in PLANTED}})


def test_the_schemas_are_valid_by_the_standard() -> None:
    """All tables, those that the demo has no rows for as well."""
    assert list(Package.metadata_validate(descriptor(table.name for table in TABLES))) == []


def test_the_demo_is_valid_by_the_standard() -> None:
    report = Package(str(DEMO / "datapackage.json")).validate()
    assert report.valid, report.flatten(["type", "rowNumber", "fieldName", "note"])
    assert {task.name for task in report.tasks} == {path.stem for path in DEMO.glob("*.csv")}


def test_the_library_and_our_checks_name_the_same_rows_and_columns(spoilt: Path) -> None:
    report = Package(str(spoilt / "datapackage.json")).validate()
    theirs = {
        (task.name, error.row_number, column)
        for task in report.tasks
        for error in task.errors
        # Names no column; the key's own constraints say the same again with it.
        if error.type != "primary-key"
        for column in getattr(error, "field_names", None) or [error.field_name]
    }
    ours = {(fault.table, fault.row, fault.column) for fault in checks.check(packagefile.read(spoilt)).faults}
    planted = {(table, row_of(DEMO, table, ident), column) for table, ident, column, _ in PLANTED}
    assert planted < theirs
    assert len(theirs - planted) == 1  # what is there twice
    assert ours == theirs
