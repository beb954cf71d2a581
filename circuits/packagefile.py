"""Reading a network package from a folder or zip file, and writing one: bytes in, bytes out, nothing
judged."""

import csv
import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path, PurePosixPath
from typing import IO, Any

from circuits.package import TABLE, TABLES, Table, descriptor

DESCRIPTOR = "datapackage.json"
# What a zip file may hold: twice the network of 100,000 customers.
MOST_BYTES = 100_000_000
MOST_ROWS = 2_000_000


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


@dataclass(frozen=True)
class RawTable:
    """A table as it stands in its file, from which the rows are read one by one: they are much larger."""

    file: str
    content: str = field(repr=False)

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Number and cells of each row that is not empty, the header first. Raises csv.Error."""
        reader = csv.reader(io.StringIO(self.content, newline=""), strict=True)
        return ((number, cells) for number, cells in enumerate(reader, start=1) if cells)


@dataclass
class RawPackage:
    """What could be read, and what could not."""

    tables: dict[str, RawTable] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def digest(self) -> str:
        """SHA-256 over the names and texts of the tables that are there, in the order of the schema."""
        sha = hashlib.sha256()
        for table in TABLES:
            if table.name in self.tables:
                sha.update(f"{table.name}\0{self.tables[table.name].content}\0".encode())
        return sha.hexdigest()


def read(path: Path) -> RawPackage:
    """Read every table that `datapackage.json` lists, out of a folder or a zip file. Raises OSError where
    there is nothing to be read."""
    if not path.is_dir():
        with path.open("rb") as file:
            return read_zip(file)

    def read_bytes(name: str) -> bytes:
        try:
            return (path / name).read_bytes()
        except (OSError, ValueError):
            raise KeyError(name) from None

    return _read_members(read_bytes)


def read_zip(file: IO[bytes]) -> RawPackage:
    """The same out of a zip file, of which no more is unpacked than a network can need."""
    try:
        with zipfile.ZipFile(file) as archive:
            size = sum(info.file_size for info in archive.infolist())
            if size > MOST_BYTES:
                return _unfit(f"{size / 1e6:.0f} MB", f"at most {MOST_BYTES / 1e6:.0f} MB when unpacked")
            folder = _folder_inside(archive)
            package = _read_members(lambda name: archive.read(folder + name))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        # RuntimeError: encrypted, or packed by a method that is not known here.
        return _unfit(str(error), "a folder or a zip file, whole and not encrypted")
    rows = sum(table.content.count("\n") for table in package.tables.values())
    if rows > MOST_ROWS:
        return _unfit(f"{rows} rows", f"at most {MOST_ROWS} rows")
    return package


def _unfit(value: str, expected: str) -> RawPackage:
    return RawPackage(faults=[Fault("the package", 0, "", value, expected)])


def _folder_inside(archive: zipfile.ZipFile) -> str:
    """A package zipped with its folder is one folder down."""
    found = [name for name in archive.namelist() if PurePosixPath(name).name == DESCRIPTOR]
    return min(found, key=len, default="").removesuffix(DESCRIPTOR)


def _read_members(read_bytes: Callable[[str], bytes]) -> RawPackage:
    """`read_bytes` raises KeyError for what is not there."""
    package = RawPackage()
    try:
        described = json.loads(read_bytes(DESCRIPTOR))
        resources = [(legible(one["name"]), legible(one["path"])) for one in described["resources"]]
    except KeyError:
        package.faults.append(Fault(DESCRIPTOR, 0, "", "", "a file that lists the tables as resources"))
        return package
    except (ValueError, TypeError, RecursionError):
        package.faults.append(
            Fault(DESCRIPTOR, 0, "", "", "JSON that lists the tables as resources, each with name and path")
        )
        return package
    for name, file in resources:
        if name not in TABLE:
            package.warnings.append(f"{name}: not a table of a network package, left out")
        elif name in package.tables:
            package.faults.append(Fault(name, 0, "", file, "each table once"))
        elif PurePosixPath(file).is_absolute() or ".." in PurePosixPath(file).parts:
            package.faults.append(Fault(name, 0, "", file, "a path inside the package"))
        else:
            try:
                package.tables[name] = RawTable(file, read_bytes(file).decode("utf-8-sig"))
            except KeyError:
                package.faults.append(Fault(name, 0, "", file, "a file of this name"))
            except UnicodeDecodeError:
                package.faults.append(Fault(name, 0, "", file, "UTF-8 text"))
    return package


def legible(words: object) -> str:
    """What was read, as it can be stored and shown: neither NUL nor half of a character.

    >>> legible("no\\x00des\\ud800")
    'no\ufffddes?'
    """
    return str(words).replace("\0", "\ufffd").encode(errors="replace").decode()


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
    yield described(files)
    for name, content in files.items():
        yield f"{name}.csv", content


def described(tables: Iterable[str]) -> tuple[str, bytes]:
    """The descriptor of a package with these tables, name and bytes."""
    return DESCRIPTOR, (json.dumps(descriptor(tables), indent=2) + "\n").encode()


def write(path: Path, files: Iterable[tuple[str, bytes]]) -> None:
    """Write files into a folder, or into a zip file if the path ends so."""
    if path.suffix == ".zip":
        with path.open("wb") as out:
            pack(out, files)
        return
    path.mkdir(parents=True, exist_ok=True)
    for name, content in files:
        (path / name).write_bytes(content)


def pack(out: IO[bytes], files: Iterable[tuple[str, bytes]]) -> None:
    """Zip files: the same files give the same bytes."""
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
