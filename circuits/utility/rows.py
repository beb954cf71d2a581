"""The package's files, written row by row, so that a large utility takes no more memory than a small one."""

import csv
import io
import json
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Self

from circuits.package import TABLE, descriptor
from circuits.packagefile import DESCRIPTOR, text

DEMO = Path(__file__).parent.parent / "demo"


class Rows:
    """A package in a folder, begun with every row of `circuits/demo` as it stands there.

    A context manager: the descriptor is written last, so that what was broken off is no package.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __enter__(self) -> Self:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / DESCRIPTOR).unlink(missing_ok=True)
        with ExitStack() as files:
            self._writer = {name: self._begin(name, files) for name in TABLE}
            self._files = files.pop_all()
        return self

    def _begin(self, name: str, files: ExitStack) -> Any:
        file = files.enter_context((self.folder / f"{name}.csv").open("w", encoding="utf-8", newline=""))
        writer = csv.writer(file, lineterminator="\r\n")
        columns = [column.name for column in TABLE[name].columns]
        writer.writerow(columns)
        writer.writerows([row[column] for column in columns] for row in demo_rows(name))
        return writer

    def __exit__(self, kind: type[BaseException] | None, *rest: object) -> None:
        self._files.close()
        if kind is None:
            content = json.dumps(descriptor(TABLE), indent=2) + "\n"
            (self.folder / DESCRIPTOR).write_text(content, encoding="utf-8")

    def add(self, table: str, **cells: object) -> None:
        """Write a row; columns that are not named stay empty."""
        row = [text(cells.pop(column.name, None)) for column in TABLE[table].columns]
        if cells:
            raise TypeError(f"{table} has no column {next(iter(cells))}")
        self._writer[table].writerow(row)


def demo_rows(name: str) -> list[dict[str, str]]:
    """The rows of a table of `circuits/demo`; none of one that it has not."""
    file = DEMO / f"{name}.csv"
    if not file.exists():
        return []
    return list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"), newline="")))
