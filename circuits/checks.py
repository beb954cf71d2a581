"""Is a package fit to be the network: every cell by its column, then the references, then the electricity.

All faults are found, not only the first, in the order of the file. A row with a bad cell takes no further
part, so that one mistake is not reported twice in other words.
"""

import csv
import functools
import re
import sys
from collections import deque
from collections.abc import Callable, Container, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, NamedTuple

from circuits import electricity
from circuits.core.network import Compiled
from circuits.package import TABLES, Column, Table
from circuits.packagefile import Fault, RawPackage, RawTable, text

_NUMBER = re.compile(r"(?=.{1,40}\Z)[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,3})?")
# The widest column of whole numbers.
_LARGEST = 2**31 - 1
# Faulty rows of which the cells are kept to be shown.
_SHOWN = 10_000


class Row(NamedTuple):
    """A row whose cells are all fit: its number in the file and its values by column name."""

    number: int
    values: dict[str, Any]


@dataclass
class Checked:
    """A package after the checks. The rows are whole, and compiled, only if there are no faults; `cells` has
    the rows that the first faults are about, by table and number, as cells by column name; `digest` is the
    package's."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    compiled: Compiled | None = None
    cells: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)
    digest: str = ""


def check(raw: RawPackage, progress: Callable[[str], object] = lambda line: None) -> Checked:
    """Check everything, saying what is being done. Cost: one pass over the cells, one compilation and one
    trace of the network."""
    checked = Checked(faults=list(raw.faults), warnings=list(raw.warnings), digest=raw.digest)
    unreadable = {fault.table for fault in raw.faults}
    known: dict[str, set[str]] = {}
    for table in TABLES:
        checked.rows[table.name] = []
        if table.name in raw.tables:
            progress(f"{table.name}: checking every cell")
            try:
                known[table.name] = _cells(table, raw.tables[table.name], checked)
            except csv.Error as error:
                unreadable.add(table.name)
                expected = f"CSV as in RFC 4180 ({error})"
                checked.faults.append(Fault(table.name, 0, "", raw.tables[table.name].file, expected))
        elif table.required and table.name not in unreadable:
            checked.faults.append(
                Fault(table.name, 0, "", "", "a table of this name, which every package has")
            )
    for table in TABLES:
        checked.faults += _references(table, checked, known, unreadable)
    whole = not checked.faults
    checked.faults += electricity.rows_that_do_not_fit(checked.rows)
    if whole and not checked.faults:
        progress("Tracing the network from its sources.")
        compiled = electricity.compiled(checked.rows)
        faults, warnings = electricity.what_is_not_fed(compiled, checked.rows)
        checked.faults += faults
        checked.warnings += warnings
        checked.compiled = None if faults else compiled
    order = [table.name for table in TABLES]
    checked.faults.sort(
        key=lambda fault: (order.index(fault.table) if fault.table in order else -1, fault.row)
    )
    _show_rows(checked)
    return checked


def _cells(table: Table, raw: RawTable, checked: Checked) -> set[str]:
    """Judge every cell. Gives the ids of all rows, those of unfit rows too: a reference to such a row is no
    second fault."""
    rows = raw.rows()
    _, header = next(rows, (1, []))
    names = [column.name for column in table.columns]
    for name in header:
        if name not in names:
            checked.warnings.append(f"{table.name}: unknown column {name}, left out")
        elif header.count(name) > 1:
            checked.faults.append(Fault(table.name, 1, name, name, "each column once"))
            return set()
    missing = [column for column in table.columns if column.required and column.name not in header]
    for column in missing:
        checked.faults.append(Fault(table.name, 1, column.name, "", "a column of this name"))
    if missing:
        deque(rows, maxlen=0)  # what is no CSV is told all the same
        return set()
    place = {name: header.index(name) for name in names if name in header}
    # A column that is not there is empty in every row, like the cell that is added at their end.
    columns = [(column.name, place.get(column.name, len(header)), _judge(column)) for column in table.columns]
    key = table.key
    ids: set[str] = set()
    seen: dict[tuple[Any, ...], int] = {}
    for number, cells in rows:
        if len(cells) > place[key[0]]:
            ids.add(sys.intern(cells[place[key[0]]]))
        if len(cells) != len(header):
            expected = f"{len(header)} cells, as in the header"
            _spoilt(checked, Fault(table.name, number, "", f"{len(cells)} cells", expected), header, cells)
            continue
        cells.append("")
        try:
            values = {name: judge(cells[at]) for name, at, judge in columns}
        except ValueError:
            for column in table.columns:
                cell = cells[place.get(column.name, len(header))]
                if not _fits(column, cell):
                    fault = Fault(table.name, number, column.name, cell, column.expected)
                    _spoilt(checked, fault, header, cells)
            continue
        ident = tuple([values[name] for name in key])
        if ident in seen:
            expected = f"what is in no other row (row {seen[ident]} has it)"
            _spoilt(checked, Fault(table.name, number, key[0], str(ident[0]), expected), header, cells)
            continue
        seen[ident] = number
        checked.rows[table.name].append(Row(number, values))
    return ids


def _spoilt(checked: Checked, fault: Fault, header: list[str], cells: list[str]) -> None:
    checked.faults.append(fault)
    if len(checked.cells) < _SHOWN:
        checked.cells[fault.table, fault.row] = dict(zip(header, cells, strict=False))


def _judge(column: Column) -> Callable[[str], Any]:
    """What makes a cell of a column its value or raises ValueError; equal cells share one value."""
    return functools.cache(functools.partial(value_of, column))


def _fits(column: Column, cell: str) -> bool:
    try:
        value_of(column, cell)
    except ValueError:
        return False
    return True


def _show_rows(checked: Checked) -> None:
    """Add the rows of those faults that were found in fit rows."""
    wanted: dict[str, set[int]] = {}
    for fault in checked.faults[:_SHOWN]:
        if fault.row > 1 and (fault.table, fault.row) not in checked.cells:
            wanted.setdefault(fault.table, set()).add(fault.row)
    for table, numbers in wanted.items():
        for number, values in checked.rows[table]:
            if number in numbers:
                checked.cells[table, number] = {name: text(value) for name, value in values.items()}


def value_of(column: Column, cell: str) -> Any:
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
    if column.longest and len(cell) > column.longest:
        raise ValueError
    if column.type == "string":
        return sys.intern(cell)  # other tables refer to it
    if not _NUMBER.fullmatch(cell):
        raise ValueError
    value: Decimal | int = int(cell) if column.type == "integer" else Decimal(cell)
    if column.type == "integer" and value > _LARGEST:
        raise ValueError
    if column.above_zero and value <= 0:
        raise ValueError
    if column.within and not column.within[0] <= value <= column.within[1]:
        raise ValueError
    return value


def _references(
    table: Table, checked: Checked, known: Mapping[str, set[str]], unreadable: Container[str]
) -> Iterator[Fault]:
    for column in table.columns:
        if not column.refers_to or column.refers_to in unreadable:
            continue
        there = known.get(column.refers_to, set())
        for number, values in checked.rows[table.name]:
            value = values[column.name]
            if value is not None and value not in there:
                yield Fault(table.name, number, column.name, value, column.expected)
