"""Is a package fit to be the network: every cell by its column, then the references, then the electricity.

All faults are found, not only the first, in the order of the file. A row with a bad cell takes no further
part, so that one mistake is not reported twice in other words.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from circuits import electricity
from circuits.core.network import Compiled
from circuits.package import TABLE, TABLES, Column, Table
from circuits.packagefile import Fault, RawPackage, RawTable

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,3})?")


@dataclass(slots=True)
class Row:
    """A row whose cells are all fit: its number in the file and its values by column name."""

    number: int
    values: dict[str, Any]


@dataclass
class Checked:
    """A package after the checks. The rows are whole, and compiled, only if there are no faults."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    compiled: Compiled | None = None


def check(raw: RawPackage, progress: Callable[[str], object] = lambda line: None) -> Checked:
    """Check everything, saying what is being done. Cost: one pass over the cells, one compilation and one
    trace of the network."""
    checked = Checked(faults=list(raw.faults), warnings=list(raw.warnings))
    unreadable = {fault.table for fault in raw.faults}
    for table in TABLES:
        checked.rows[table.name] = []
        if table.name in raw.tables:
            progress(f"{table.name}: checking {len(raw.tables[table.name].rows)} rows")
            _cells(table, raw.tables[table.name], checked)
        elif table.required and table.name not in unreadable:
            checked.faults.append(
                Fault(table.name, 0, "", "", "a table of this name, which every package has")
            )
    for table in TABLES:
        checked.faults += _references(table, checked, raw)
    whole = not checked.faults
    rows = {name: [(row.number, row.values) for row in found] for name, found in checked.rows.items()}
    checked.faults += electricity.rows_that_do_not_fit(rows)
    if whole and not checked.faults:
        progress("Tracing the network from its sources.")
        compiled = electricity.compiled(rows)
        faults, warnings = electricity.what_is_not_fed(compiled, rows)
        checked.faults += faults
        checked.warnings += warnings
        checked.compiled = None if faults else compiled
    order = [table.name for table in TABLES]
    checked.faults.sort(
        key=lambda fault: (order.index(fault.table) if fault.table in order else -1, fault.row)
    )
    return checked


def _cells(table: Table, raw: RawTable, checked: Checked) -> None:
    names = [column.name for column in table.columns]
    for name in raw.header:
        if name not in names:
            checked.warnings.append(f"{table.name}: unknown column {name}, left out")
        elif raw.header.count(name) > 1:
            checked.faults.append(Fault(table.name, 1, name, name, "each column once"))
            return
    missing = [column for column in table.columns if column.required and column.name not in raw.header]
    for column in missing:
        checked.faults.append(Fault(table.name, 1, column.name, "", "a column of this name"))
    if missing:
        return
    place = {name: raw.header.index(name) for name in names if name in raw.header}
    seen: dict[tuple[Any, ...], int] = {}
    for number, cells in raw.rows:
        if len(cells) != len(raw.header):
            expected = f"{len(raw.header)} cells, as in the header"
            checked.faults.append(Fault(table.name, number, "", f"{len(cells)} cells", expected))
            continue
        row = Row(number, {})
        fit = True
        for column in table.columns:
            cell = cells[place[column.name]] if column.name in place else ""
            try:
                row.values[column.name] = _value(column, cell)
            except ValueError:
                checked.faults.append(Fault(table.name, number, column.name, cell, column.expected))
                fit = False
        if not fit:
            continue
        key = tuple(row.values[name] for name in table.key)
        if key in seen:
            expected = f"what is in no other row (row {seen[key]} has it)"
            checked.faults.append(Fault(table.name, number, table.key[0], str(key[0]), expected))
            continue
        seen[key] = number
        checked.rows[table.name].append(row)


def _value(column: Column, cell: str) -> Any:
    """The value of a cell; ValueError if it does not fit its column."""
    if not cell:
        if column.required:
            raise ValueError
        return None if column.type != "string" or column.refers_to else ""
    if column.words and cell not in column.words:
        raise ValueError
    if "\x00" in cell or (column.pattern and not re.fullmatch(column.pattern, cell)):
        raise ValueError
    if column.type == "boolean":
        if cell not in ("true", "false"):
            raise ValueError
        return cell == "true"
    if column.type == "string":
        return cell
    if not _NUMBER.fullmatch(cell):
        raise ValueError
    value: Decimal | int = int(cell) if column.type == "integer" else Decimal(cell)
    if column.above_zero and value <= 0:
        raise ValueError
    if column.within and not column.within[0] <= value <= column.within[1]:
        raise ValueError
    return value


def _references(table: Table, checked: Checked, raw: RawPackage) -> Iterator[Fault]:
    for column in table.columns:
        if not column.refers_to:
            continue
        known = _ids(column.refers_to, raw)
        for row in checked.rows[table.name]:
            value = row.values[column.name]
            if value is not None and value not in known:
                yield Fault(table.name, row.number, column.name, value, column.expected)


def _ids(name: str, raw: RawPackage) -> set[str]:
    """Every id that a table has, those of unfit rows too: a reference to such a row is no second fault."""
    table, key = raw.tables.get(name), TABLE[name].key[0]
    if table is None or key not in table.header:
        return set()
    place = table.header.index(key)
    return {cells[place] for _, cells in table.rows if len(cells) > place}
