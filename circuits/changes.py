"""What a package would do to the network in use: which rows it adds, changes and leaves out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from circuits.package import TABLES, Table
from circuits.tables import current_rows

# Column, the value in use, the new value.
Difference = tuple[str, Any, Any]


@dataclass
class Changes:
    """Ids by table; of what is changed, also how. A contact's id is its premises, channel and address."""

    added: dict[str, set[str]] = field(default_factory=dict)
    changed: dict[str, dict[str, list[Difference]]] = field(default_factory=dict)
    removed: dict[str, set[str]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return any(any(found.values()) for found in (self.added, self.changed, self.removed))

    def counts(self, table: str) -> tuple[int, int, int]:
        """How many rows of a table are added, changed, left out."""
        return len(self.added[table]), len(self.changed[table]), len(self.removed[table])


def identity(table: Table, row: Mapping[str, Any]) -> str:
    """What a row is told by: its id, or the cells of its key with the one character between that none has.

    >>> from circuits.package import TABLE
    >>> identity(TABLE["contacts"], {"premises_id": "1001", "channel": "sms", "address": "555-0101"})
    '1001\\x00sms\\x00555-0101'
    """
    return "\0".join(row[name] for name in table.key)


def compare(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> Changes:
    """Hold the rows of a package against the network in use. Cost: one reading of it, a row at a time."""
    changes = Changes()
    for table in TABLES:
        changes.added[table.name], changes.changed[table.name], changes.removed[table.name] = _of_table(
            table, rows[table.name]
        )
    return changes


def _of_table(
    table: Table, rows: Iterable[Mapping[str, Any]]
) -> tuple[set[str], dict[str, list[Difference]], set[str]]:
    after = {identity(table, row): row for row in rows}
    added, changed, removed = set(after), {}, set()
    for before in current_rows(table.name):
        ident = identity(table, before)
        if ident not in after:
            removed.add(ident)
            continue
        added.discard(ident)
        if differences := _differences(before, after[ident]):
            changed[ident] = differences
    return added, changed, removed


def _differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Difference]:
    # As written: 12.5 and 12.50 are equal numbers and yet not the same cell.
    return [
        (name, value, after[name])
        for name, value in before.items()
        if value != after[name] or (type(value) is Decimal and str(value) != str(after[name]))
    ]
