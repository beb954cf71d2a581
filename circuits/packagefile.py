"""Reading a network package from a folder or zip file, and writing one: bytes in, bytes out, nothing
judged."""

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path, PurePosixPath
from typing import Any

from circuits.package import TABLE, TABLES, Table, descriptor

DESCRIPTOR = "datapackage.json"


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with a package. `row` counts the header as row 1 and is 0 where it is about no row."""

    table: str
    row: int
    column: str
    value: str
    expected: str

    def __str__(self) -> str:
        place = ", ".join(
            [self.table]
            + [f"row {self.row}"] * (self.row > 0)
            + [f"column {self.column}"] * bool(self.column)
        )
        found = f'"{self.value}"' if self.value else "nothing"
        return f"{place}: {found}; expected {self.expected}"


@dataclass
class RawTable:
    """A table as it stands in its file: the header, and each row's number and cells."""

    header: list[str] = field(default_factory=list)
    rows: list[tuple[int, list[str]]] = field(default_factory=list)


@dataclass
class RawPackage:
    """What could be read, and what could not."""

    tables: dict[str, RawTable] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def read(path: Path) -> RawPackage:
    """Read every table that `datapackage.json` lists. Raises OSError where there is nothing to be read."""
    package = RawPackage()
    if path.is_dir():
        _read_members(package, lambda name: (path / name).read_bytes())
        return package
    try:
        with zipfile.ZipFile(path) as archive:
            folder = _folder_inside(archive)
            _read_members(package, lambda name: archive.read(folder + name))
    except zipfile.BadZipFile:
        package.faults.append(Fault(str(path), 0, "", "", "a folder or a zip file"))
    return package


def _folder_inside(archive: zipfile.ZipFile) -> str:
    """A package zipped with its folder is one folder down."""
    found = [name for name in archive.namelist() if PurePosixPath(name).name == DESCRIPTOR]
    return min(found, key=len, default="").removesuffix(DESCRIPTOR)


def _read_members(package: RawPackage, read_bytes: Callable[[str], bytes]) -> None:
    try:
        described = json.loads(read_bytes(DESCRIPTOR))
        resources = [(str(one["name"]), str(one["path"])) for one in described["resources"]]
    except (FileNotFoundError, KeyError):
        package.faults.append(Fault(DESCRIPTOR, 0, "", "", "a file that lists the tables as resources"))
        return
    except (ValueError, TypeError):
        package.faults.append(
            Fault(DESCRIPTOR, 0, "", "", "JSON that lists the tables as resources, each with name and path")
        )
        return
    for name, file in resources:
        if name not in TABLE:
            package.warnings.append(f"{name}: not a table of a network package, left out")
        elif PurePosixPath(file).is_absolute() or ".." in PurePosixPath(file).parts:
            package.faults.append(Fault(name, 0, "", file, "a path inside the package"))
        else:
            try:
                package.tables[name] = _raw_table(read_bytes(file))
            except (FileNotFoundError, KeyError):
                package.faults.append(Fault(name, 0, "", file, "a file of this name"))
            except UnicodeDecodeError:
                package.faults.append(Fault(name, 0, "", file, "UTF-8 text"))
            except csv.Error as error:
                package.faults.append(Fault(name, 0, "", file, f"CSV as in RFC 4180 ({error})"))


def _raw_table(content: bytes) -> RawTable:
    reader = csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True)
    rows = [(number, cells) for number, cells in enumerate(reader, start=1) if cells]
    return RawTable(rows[0][1], rows[1:]) if rows else RawTable()


def text(value: Any) -> str:
    """A value as a cell: numbers as they were given, truth as true and false, not known as nothing.

    >>> text(Decimal("12.470")), text(True), text(None), text(Decimal("1E+3"))
    ('12.470', 'true', '', '1000')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def csv_bytes(table: Table, rows: Iterable[Mapping[str, Any]]) -> bytes:
    """A table as the bytes of its file: rows by key, columns in the order of the schema, CRLF."""
    names = [column.name for column in table.columns]
    cells = sorted(
        ([text(row[name]) for name in names] for row in rows),
        key=lambda row: [row[names.index(name)] for name in table.key],
    )
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    writer.writerows(cells)
    return out.getvalue().encode()


def members(rows_of: Callable[[str], Iterable[Mapping[str, Any]]]) -> Iterator[tuple[str, bytes]]:
    """The files of a package, name and bytes, the descriptor first. Tables without rows are left out, but for
    those that a package must have."""
    files = {}
    for table in TABLES:
        rows = list(rows_of(table.name))
        if rows or table.required:
            files[table.name] = csv_bytes(table, rows)
    yield DESCRIPTOR, (json.dumps(descriptor(files), indent=2) + "\n").encode()
    for name, content in files.items():
        yield f"{name}.csv", content


def write(path: Path, files: Iterable[tuple[str, bytes]]) -> None:
    """Write files into a folder, or into a zip file if the path ends so: the same files give the same
    bytes."""
    if path.suffix != ".zip":
        path.mkdir(parents=True, exist_ok=True)
        for name, content in files:
            (path / name).write_bytes(content)
        return
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
