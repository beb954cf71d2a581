"""Can the network be so: row changes held against the electricity, as an import's rows are."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from circuits import electricity
from circuits.asleft import Changes, Row, Rows, laid_over
from circuits.core.network import Compiled, normally_open
from circuits.core.trace import Answer, trace
from circuits.core.values import in_words
from circuits.package import TABLES
from circuits.packagefile import Fault


@dataclass(frozen=True, slots=True)
class Proved:
    """The network after some changes, and in sentences what is wrong with it and was not before; compiled
    only if its rows fit each other."""

    compiled: Compiled | None
    faults: tuple[str, ...]


def prove(rows: Rows, changes: Changes, before: Compiled) -> Proved:
    """Judge the network as it would be after the changes, `before` being the one that `rows` make.

    Faults are rows that do not fit each other, unlike phases joined by a tie that normally stands closed, and
    nodes that no station feeds in normal position any more: a customer's machine that may feed them is not
    enough. Cost: two passes over the rows, one compilation, two traces.
    """
    after = laid_over(rows, changes)
    numbered = {table.name: list(enumerate(after.get(table.name, {}).values())) for table in TABLES}
    known = {table: list(found.values()) for table, found in after.items()}

    def said(faults: Iterable[Fault]) -> tuple[str, ...]:
        return tuple(_sentence(fault, known[fault.table][fault.row]) for fault in faults)

    if broken := [*_references(after, changes), *said(electricity.rows_that_do_not_fit(numbered))]:
        return Proved(None, tuple(broken))
    compiled = electricity.compiled(numbered)
    return Proved(compiled, tuple(_no_longer_fed(compiled, before, after["nodes"])))


def _no_longer_fed(compiled: Compiled, before: Compiled, nodes: Mapping[str, Row]) -> Iterator[str]:
    now, then = (trace(one, normally_open(one.network)) for one in (compiled, before))
    unfed: dict[str, str] = {}
    for node, phase in compiled.points:
        was_fed = (node, phase) not in before.index or then.answer(node, phase) is Answer.ENERGIZED
        if was_fed and now.answer(node, phase) is not Answer.ENERGIZED and not nodes[node]["out_of_service"]:
            unfed[node] = unfed.get(node, "") + phase
    for node, phases in unfed.items():
        yield f"No station would feed {node} {in_words(phases)} in normal position any more."


def _references(after: Rows, changes: Changes) -> Iterator[str]:
    """Rows that a changed row refers to, or that refer to a removed one, and that are not there."""
    removed = {(change.table, change.id) for change in changes if change.after is None}
    changed = {(change.table, change.id) for change in changes if change.after is not None}
    for table in TABLES:
        for column in table.columns:
            if not column.refers_to:
                continue
            gone = {ident for name, ident in removed if name == column.refers_to}
            for ident, row in after.get(table.name, {}).items():
                value = row[column.name]
                if value in gone or (
                    (table.name, ident) in changed
                    and value is not None
                    and value not in after.get(column.refers_to, {})
                ):
                    what = f"{column.name.replace('_', ' ')} {value}"
                    yield f"{ident} ({what}) does not fit: expected {column.expected}."


def _sentence(fault: Fault, row: Row) -> str:
    ident = next(iter(row.values()))
    return (
        f"{ident} ({fault.column.replace('_', ' ')} {fault.value}) does not fit: expected {fault.expected}."
    )
