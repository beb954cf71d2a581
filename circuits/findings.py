"""What a check of a package has found, as JSON for its page: all counts, and rows as many as people read."""

from collections import Counter
from collections.abc import Iterable
from itertools import islice
from typing import Any

from circuits.checks import Checked
from circuits.importer import Outcome
from circuits.package import TABLES
from circuits.packagefile import legible, text

# Rows with faults, ids of a table, sentences.
MOST_ROWS = 10_000
MOST_IDS = 500
MOST_SENTENCES = 500
# Characters of a cell.
LONGEST = 200


def of_faults(checked: Checked) -> dict[str, Any]:
    """The faults by row, in the order of the files, and how many there are of each column."""
    counts = Counter((fault.table, fault.column) for fault in checked.faults)
    rows: dict[tuple[str, int], dict[str, Any]] = {}
    for fault in checked.faults:
        place = fault.table, fault.row
        if place not in rows:
            if len(rows) == MOST_ROWS:
                break
            cells = checked.cells.get(place, {})
            shown = [{"column": _short(name), "cell": _short(cell)} for name, cell in cells.items()]
            rows[place] = {"table": fault.table, "row": fault.row, "faults": [], "cells": shown}
        rows[place]["faults"].append(
            {"column": fault.column, "value": _short(fault.value), "expected": _short(fault.expected)}
        )
    for row in rows.values():
        wrong = {fault["column"] for fault in row["faults"]}
        for cell in row["cells"]:
            cell["wrong"] = cell["column"] in wrong
    return {
        "faults": len(checked.faults),
        "columns": [
            {"table": table, "column": column, "count": count}
            for (table, column), count in counts.most_common()
        ],
        "rows": list(rows.values()),
        "warnings": _sentences(checked.warnings),
    }


def of_outcome(checked: Checked, outcome: Outcome) -> dict[str, Any]:
    """What an import without faults does or would do, and what stands against it."""
    changes = outcome.changes
    tables = []
    for table in TABLES if changes else ():
        name = table.name
        added, changed, removed = changes.counts(name)
        if added or changed or removed:
            differing = sorted(changes.changed[name].items())[:MOST_IDS]
            tables.append(
                {
                    "name": name,
                    "rows": len(checked.rows[name]),
                    "added": added,
                    "added_ids": _ids(changes.added[name]),
                    "changed": changed,
                    "changed_ids": [
                        {"id": _id(ident), "cells": [[column, text(a), text(b)] for column, a, b in cells]}
                        for ident, cells in differing
                    ],
                    "removed": removed,
                    "removed_ids": _ids(changes.removed[name]),
                }
            )
    return {
        "faults": 0,
        "warnings": _sentences(checked.warnings),
        "tables": tables,
        "refusals": _sentences(outcome.refusals),
        "refused": len(outcome.refusals),
        "consequences": _sentences(outcome.consequences),
    }


def _ids(idents: set[str]) -> list[str]:
    return [_id(ident) for ident in sorted(idents)[:MOST_IDS]]


def _id(ident: str) -> str:
    return ident.replace("\0", " ")


def _sentences(found: Iterable[str]) -> list[str]:
    return [legible(sentence) for sentence in islice(found, MOST_SENTENCES)]


def _short(cell: str) -> str:
    cell = legible(cell)
    return cell if len(cell) <= LONGEST else f"{cell[:LONGEST]} …"
