"""A transformer moved to other phases or to another place of the primary, with all that follows it."""

from collections.abc import Callable, Mapping
from typing import Any

from circuits.core.values import letters

from .rows import CannotBeError, Changes, Row, RowChange, Rows, changed, ends, laid_over, merged, there


def move_transformer(rows: Rows, *, transformer: str, phases: str, at_node: str = "") -> Changes:
    """Move a transformer's tap to other phases, and to another place of the primary if `at_node` names one.

    What hangs between the tap and the customers follows: its own cutout, its secondary node with the lines,
    disconnects, machines and services behind it. A secondary tie is left as it is, unless both of its sides
    derive from the same phases now.
    """
    bank = there(rows, "transformers", transformer)
    if len(phases) != len(bank["phases"]):
        raise CannotBeError(f"{transformer} has {len(bank['phases'])} primary phases, not {len(phases)}.")
    letter = dict(zip(bank["phases"], phases, strict=True))
    own = _own_primary(rows, bank)
    follows = _behind(rows, bank["secondary_node"]) | ({own} if own else set())
    moved: list[RowChange] = [changed(rows, "transformers", transformer, phases=phases)]
    if at_node and not own:
        moved = [changed(rows, "transformers", transformer, phases=phases, primary_node=at_node)]

    def turned(some: str) -> str:
        return letters({letter.get(one, one) for one in some})

    for node in sorted(follows):
        moved.append(changed(rows, "nodes", node, phases=turned(rows["nodes"][node]["phases"])))
    after = laid_over(rows, moved)["nodes"]
    for table in ("lines", "devices"):
        for name, row in rows[table].items():
            if touched := [end for end in ends(row) if end in follows]:
                moved.append(_branch_moved(rows, table, name, row, touched, own, at_node, turned, after))
    for table in ("loads", "capacitors", "sources"):
        for name, row in rows[table].items():
            if row["node_id"] in follows:
                moved.append(changed(rows, table, name, phases=turned(row["phases"])))
    for name, row in rows["premises"].items():
        if row["phases"] and row["transformer_id"] == transformer:
            moved.append(changed(rows, "premises", name, phases=turned(row["phases"])))
    return merged(moved)


def _branch_moved(
    rows: Rows,
    table: str,
    name: str,
    row: Row,
    touched: list[str],
    own: str,
    at_node: str,
    turned: Callable[[str], str],
    nodes: Mapping[str, Row],
) -> RowChange:
    """A line or device at a node that follows; the transformer's own cutout goes to `at_node`."""
    cells: dict[str, Any] = {"phases": turned(row["phases"])}
    if row.get("kind") == "secondary_tie":
        start, end = (nodes[one]["phases"] for one in ends(row))
        cells["phases"] = start if start == end else row["phases"]
    if row.get("normal_position") not in (None, "open", "closed"):
        cells["normal_position"] = turned(row["normal_position"])
    if own in touched and at_node:
        cells["to_node" if row["from_node"] == own else "from_node"] = at_node
    return changed(rows, table, name, **cells)


def _own_primary(rows: Rows, bank: Row) -> str:
    """The primary node if it is the transformer's alone, behind its own cutout; else ""."""
    node = bank["primary_node"]
    others = (
        *(row for row in rows["lines"].values() if node in ends(row)),
        *(row for row in rows["regulators"].values() if node in ends(row)),
        *(row for row in rows["transformers"].values() if node == row["primary_node"] and row != bank),
        *(row for table in ("loads", "capacitors") for row in rows[table].values() if row["node_id"] == node),
    )
    has_cutout = any(node in ends(row) for row in rows["devices"].values())
    return "" if others or not has_cutout else node


def _behind(rows: Rows, secondary: str) -> set[str]:
    """The nodes that lines and devices join to a secondary; not over a secondary tie."""
    joined: dict[str, set[str]] = {}
    for table in ("lines", "devices"):
        for row in rows[table].values():
            if row.get("kind") != "secondary_tie":
                for one, other in (ends(row), ends(row)[::-1]):
                    joined.setdefault(one, set()).add(other)
    found, rest = {secondary}, [secondary]
    while rest:
        more = joined.get(rest.pop(), set()) - found
        found |= more
        rest += more
    return found
