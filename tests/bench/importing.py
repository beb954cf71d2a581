"""Import of a package by the command, as a process of its own, against a bare COPY of the same files."""

import csv
import io
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
from psycopg import sql

from .measure import Row

# Runs a command and prints its seconds and the most memory it held, in kB.
_MEASURED = """
import json, resource, subprocess, sys, time
start = time.monotonic()
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
print(json.dumps([time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss]))
"""


def manage(*arguments: str, **env: str) -> tuple[float, float]:
    """Run a command of manage.py: its seconds, and the most memory it held in MB."""
    command = [sys.executable, "-c", _MEASURED, sys.executable, "manage.py", *arguments]
    said = subprocess.run(command, check=True, env=os.environ | env, capture_output=True, text=True).stdout
    seconds, kilobytes = json.loads(said)
    return seconds, kilobytes / 1024


def copied(package: Path) -> float:
    """Seconds to COPY every file of the package into a table of text, as it stands: no check, no key."""
    took = 0.0
    with psycopg.connect(os.environ["ADMIN_DATABASE_URL"]) as connection:
        for file in sorted(package.glob("*.csv")):
            text = file.read_bytes().decode()
            header = next(csv.reader(io.StringIO(text, newline="")))
            columns = sql.SQL(", ").join(sql.SQL("{} text").format(sql.Identifier(name)) for name in header)
            start = time.monotonic()
            connection.execute(sql.SQL("CREATE TEMPORARY TABLE bench ({}) ON COMMIT DROP").format(columns))
            with connection.cursor().copy("COPY bench FROM STDIN WITH (FORMAT csv, HEADER)") as copy:
                copy.write(text)
            connection.commit()
            took += time.monotonic() - start
    return took


def rows(package: Path, on: str, *, seconds: float, megabytes: float) -> Iterator[Row]:
    """The first import into the empty tables of a board, and a second one of the same package."""
    floor = copied(package)
    took, peak = manage("import_network", str(package))
    target = f"{seconds:g} s"
    yield Row("import of a network package", on, "s", took, "bare COPY", floor, target, took <= seconds)
    size = sum(file.stat().st_size for file in package.glob("*.csv")) / 1e6
    yield Row("its memory", on, "MB", peak, "its files", size, f"{megabytes:g} MB", peak <= megabytes)
    again, _ = manage("import_network", str(package))
    yield Row("the same import again", on, "s", again, "first import", took, "no slower", again <= took)


def empty() -> None:
    """Leave nothing on the board but what the migrations put there."""
    with psycopg.connect(os.environ["ADMIN_DATABASE_URL"]) as admin:
        kept = ["django_migrations", "django_content_type", "clearances_transition"]
        found = admin.execute(
            "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> ALL(%s)", [kept]
        )
        tables = sql.SQL(", ").join(sql.Identifier(name) for (name,) in found)
        # No guard against emptying is asked.
        admin.execute("SET session_replication_role = replica")
        admin.execute(sql.SQL("TRUNCATE {} RESTART IDENTITY").format(tables))
