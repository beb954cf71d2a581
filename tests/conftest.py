"""What every test stands on: a database of its own, owned by another role than the tests' own, and no
network.

The tests connect as `board_app`, as the board does, so that a safety rule of the database that this role
could pass by would be seen. Its rights don't suffice to make or to empty tables: the owner migrates and the
superuser clears up.
"""

import ipaddress
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import psycopg
import pytest
from django.db import connections
from django.test import TransactionTestCase, override_settings
from psycopg import sql

ROOT = Path(__file__).resolve().parent.parent


def _url(variable: str, database: str) -> str:
    return os.environ[variable].rpartition("/")[0] + f"/{database}"


@pytest.fixture(scope="session")
def database_name() -> str:
    """The test database of this process, one for each worker of pytest-xdist."""
    return f"test_board_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"


@pytest.fixture(scope="session")
def admin_url(database_name: str) -> str:
    """The test database as the superuser."""
    return _url("ADMIN_DATABASE_URL", database_name)


@pytest.fixture(scope="session")
def owner_url(database_name: str) -> str:
    """The test database as the role that owns the tables."""
    return _url("OWNER_DATABASE_URL", database_name)


@pytest.fixture(scope="session")
def app_url(database_name: str) -> str:
    """The test database as the role of the web server and the worker."""
    return _url("DATABASE_URL", database_name)


@pytest.fixture(scope="session")
def django_db_setup(database_name: str, admin_url: str, owner_url: str) -> Iterator[None]:
    """Make the test database from the empty one (which has the roles' default rights), migrate it, point
    Django there."""
    name = sql.Identifier(database_name)
    with psycopg.connect(os.environ["ADMIN_DATABASE_URL"], dbname="postgres", autocommit=True) as server:
        # One after the other: a template may not be in use.
        server.execute("SELECT pg_advisory_lock(1)")
        server.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))
        server.execute(sql.SQL("CREATE DATABASE {} TEMPLATE board OWNER board_owner").format(name))
        server.execute("SELECT pg_advisory_unlock(1)")
        subprocess.run(
            [sys.executable, "manage.py", "migrate", "--no-input", "--verbosity=0"],
            env=os.environ | {"DATABASE_URL": owner_url},
            cwd=ROOT,
            check=True,
        )
        board = connections["default"]
        board.settings_dict["NAME"] = database_name
        cleared = _teardown(admin_url)
        with mock.patch.object(TransactionTestCase, "_fixture_teardown", cleared):
            yield
        connections.close_all()
        board.close_pool()
        server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(name))


def _teardown(admin_url: str) -> Callable[[TransactionTestCase], None]:
    """What stands in for Django's flush after a test with real transactions: every table gets the rows back
    that the migrations left in it, and no trigger is asked."""
    with psycopg.connect(admin_url) as admin:
        found = admin.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1")
        tables = [sql.Identifier(name) for (name,) in found]
        kept: dict[sql.Identifier, bytes] = {}
        for table in tables:
            with admin.cursor().copy(sql.SQL("COPY {} TO STDOUT").format(table)) as rows:
                kept[table] = b"".join(bytes(row) for row in rows)
    empty = sql.SQL("; ").join(sql.SQL("DELETE FROM {}").format(table) for table in tables)

    def clear(case: TransactionTestCase) -> None:
        connections.close_all()
        with psycopg.connect(admin_url) as admin:
            # Neither foreign keys nor guards bite here; a test that left a transaction open is told so.
            admin.execute("SET session_replication_role = replica; SET lock_timeout = '10s'")
            admin.execute(empty)
            for table, rows in kept.items():
                if rows:
                    with admin.cursor().copy(sql.SQL("COPY {} FROM STDIN").format(table)) as back:
                        back.write(rows)

    return clear


@pytest.fixture(scope="session", autouse=True)
def _quick_passwords() -> Iterator[None]:
    """Signing in costs a tenth of a second by design, which no test needs."""
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture(scope="session", autouse=True)
def _this_machine_only() -> Iterator[None]:
    """No test speaks with another machine."""

    def guarded(connect: Callable[[socket.socket, Any], Any]) -> Callable[[socket.socket, Any], Any]:
        def to_loopback(self: socket.socket, address: Any) -> Any:
            if self.family in {socket.AF_INET, socket.AF_INET6} and not _is_loopback(address[0]):
                pytest.fail(f"This test tried to reach {address[0]}.")
            return connect(self, address)

        return to_loopback

    with (
        mock.patch.object(socket.socket, "connect", guarded(socket.socket.connect)),
        mock.patch.object(socket.socket, "connect_ex", guarded(socket.socket.connect_ex)),
    ):
        yield


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
