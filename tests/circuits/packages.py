"""The demo package with a few cells changed, and the import of it as a person would run it."""

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from circuits.models import NetworkRevision
from circuits.package import TABLE
from circuits.packagefile import csv_bytes
from tests.circuits.conftest import DEMO

Rows = list[dict[str, str]]
Edit = Callable[[Rows], Rows]


def edited(folder: Path, **edits: Edit) -> Path:
    """The demo package in a folder of its own, with some tables changed."""
    for path in DEMO.iterdir():
        content = path.read_bytes()
        if path.stem in edits:
            rows = edits[path.stem](list(csv.DictReader(io.StringIO(content.decode(), newline=""))))
            content = csv_bytes(TABLE[path.stem], rows)
        (folder / path.name).write_bytes(content)
    return folder


def without(**wanted: str) -> Edit:
    """Leave out the rows in which all these columns have these values."""
    return lambda rows: [row for row in rows if any(row[name] != value for name, value in wanted.items())]


def changed(key: str, **values: str) -> Edit:
    """Change the row whose id it is."""
    return lambda rows: [row | values if key == next(iter(row.values())) else row for row in rows]


def idle(rows: Rows) -> Rows:
    """The nodes of the tap beyond P-252 normally de-energized on purpose."""
    unfed = ("P-253", "P-253t", "T-253s")
    return [row | {"out_of_service": "true"} if row["node_id"] in unfed else row for row in rows]


def load(path: Path) -> str:
    out = io.StringIO()
    call_command("import_network", str(path), stdout=out, stderr=out)
    return out.getvalue()


def refused(path: Path) -> list[str]:
    """The lines that an import complains in; it must change nothing."""
    before = NetworkRevision.objects.count()
    out = io.StringIO()
    with pytest.raises(CommandError) as complaint:
        call_command("import_network", str(path), stdout=io.StringIO(), stderr=out)
    assert NetworkRevision.objects.count() == before
    return [*out.getvalue().splitlines(), str(complaint.value)]


def row_of(path: Path, table: str, key: str) -> int:
    """The row of a file in which an id stands, the header being row 1."""
    lines = (path / f"{table}.csv").read_text().splitlines()
    return next(number for number, line in enumerate(lines, start=1) if line.startswith(f"{key},"))
