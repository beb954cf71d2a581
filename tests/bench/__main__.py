"""`make bench`: every row of the bench as a table, and in build/bench.json."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

from . import importing, pages, planning, proving, tracing
from .measure import Row, report

BUILD = Path("build")


def rows() -> Iterator[Row]:
    """All rows, the longest network last."""
    importing.manage("migrate", "--no-input", DATABASE_URL=os.environ["OWNER_DATABASE_URL"])
    for customers, seconds, megabytes in ((30_000, 30, 500), (100_000, 60, 1000)):
        on = f"{customers:,} customers"
        package = BUILD / f"utility-{customers}"
        importing.manage("build_demo", str(package), "--customers", str(customers))
        importing.empty()
        yield from importing.rows(package, on, seconds=seconds, megabytes=megabytes)
        if customers == 30_000:
            yield from pages.rows(on)
            yield from proving.rows(package, on)
    yield from tracing.rows(package, on)
    yield from tracing.steps(package, on)
    yield from tracing.memory(package, on)
    yield from planning.rows()


def main() -> int:
    """The exit status is 0 whatever was met: a bench informs, tests judge."""
    found = []
    for row in rows():
        sys.stderr.write(f"{row.name}, {row.on}: {row.ours:.3g} {row.unit}\n")
        found.append(row)
    sys.stdout.write(report(found, BUILD / "bench.json") + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
