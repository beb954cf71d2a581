"""Changes of the network's rows: added, changed, removed; told by table and id, with the cells of a network
package by column name."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from circuits.assemble import closed_phases
from circuits.checks import value_of
from circuits.package import TABLE
from circuits.packagefile import text

Row = Mapping[str, Any]
# Table -> id -> row.
Rows = Mapping[str, Mapping[str, Row]]


class CannotBeError(ValueError):
    """Why a change can't be made of these rows, in a sentence: a row that is not there, a cell that does not
    fit its column."""


@dataclass(frozen=True, slots=True)
class RowChange:
    """A row added (`before` None), changed, or removed (`after` None)."""

    table: str
    id: str
    before: Row | None
    after: Row | None

    @property
    def columns(self) -> frozenset[str]:
        """The columns that differ, of a row that stays; of another one all."""
        if self.before is None or self.after is None:
            return frozenset(self.before or self.after or ())
        return frozenset(name for name, value in self.before.items() if value != self.after[name])


Changes = tuple[RowChange, ...]


def laid_over(rows: Rows, changes: Iterable[RowChange]) -> dict[str, dict[str, Row]]:
    """The rows after the changes; those given are left as they are. Cost: one copy of each table."""
    after = {table: dict(found) for table, found in rows.items()}
    for change in changes:
        if change.after is None:
            after[change.table].pop(change.id, None)
        else:
            after[change.table][change.id] = change.after
    return after


def merged(changes: Iterable[RowChange]) -> Changes:
    """One change a row for several after each other; a row that ends as it began has none."""
    found: dict[tuple[str, str], RowChange] = {}
    for change in changes:
        first = found.get((change.table, change.id), change)
        found[change.table, change.id] = RowChange(change.table, change.id, first.before, change.after)
    return tuple(change for change in found.values() if change.before != change.after)


def ends(row: Row) -> tuple[str, str]:
    """The two nodes of a line, device or regulator."""
    return row["from_node"], row["to_node"]


def there(rows: Rows, table: str, ident: str) -> Row:
    """A row that must be there."""
    found = rows[table].get(ident)
    if found is None:
        raise CannotBeError(f"There is no row {ident or '(no number)'} among the {table} of the network.")
    return found


def new(rows: Rows, table: str, **cells: Any) -> RowChange:
    """A row that is not there yet; what is not said is an empty cell."""
    empty = {column.name: "" for column in TABLE[table].columns}
    row = parsed(table, empty | cells)
    ident = str(row[TABLE[table].key[0]])
    if ident in rows[table]:
        raise CannotBeError(f"{ident} is among the {table} of the network already.")
    return RowChange(table, ident, None, row)


def changed(rows: Rows, table: str, ident: str, **cells: Any) -> RowChange:
    """A row that is there, with some other cells."""
    before = there(rows, table, ident)
    return RowChange(table, ident, before, {**before, **parsed(table, cells)})


def parsed(table: str, cells: Mapping[str, Any]) -> dict[str, Any]:
    """Cells as values; raises CannotBeError with what the column expects."""
    columns = {column.name: column for column in TABLE[table].columns}
    values = {}
    for name, cell in cells.items():
        try:
            values[name] = value_of(columns[name], text(cell))
        except ValueError:
            what = f"{name.replace('_', ' ')} «{text(cell)}»"
            raise CannotBeError(f"{table}: {what} is not {columns[name].expected}.") from None
    return values


def moved_positions(change: RowChange) -> Iterator[tuple[str, str, str, str]]:
    """Of a device that stays: each phase before, its phase now, and the normal position ("open", "closed")
    before and now; a phase of which neither changes is left out."""
    if change.table != "devices" or change.before is None or change.after is None:
        return
    before, after = change.before, change.after
    normal = closed_phases(before["phases"], before["normal_position"])
    new_normal = closed_phases(after["phases"], after["normal_position"])
    for old, new in zip(before["phases"], after["phases"], strict=False):
        was, now = ("closed" if one else "open" for one in (old in normal, new in new_normal))
        if (old, was) != (new, now):
            yield old, new, was, now


def written(changes: Iterable[RowChange]) -> list[dict[str, Any]]:
    """As JSON keeps them: cells as a package writes them."""

    def cells(row: Row | None) -> dict[str, str] | None:
        return None if row is None else {name: text(value) for name, value in row.items()}

    return [
        {"table": one.table, "id": one.id, "before": cells(one.before), "after": cells(one.after)}
        for one in changes
    ]


def read(kept: Iterable[Mapping[str, Any]]) -> Changes:
    """What `written` has made, as changes again."""

    def row(table: str, cells: Mapping[str, str] | None) -> Row | None:
        return None if cells is None else parsed(table, cells)

    return tuple(
        RowChange(one["table"], one["id"], row(one["table"], one["before"]), row(one["table"], one["after"]))
        for one in kept
    )
