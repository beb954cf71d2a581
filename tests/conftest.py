"""What every test stands on: a database of its own, owned by another role than the tests' own, and no
network.

The tests connect as `board_app`, as the board does, so that a safety rule of the database that this role
could pass by would be seen. Its rights don't suffice to make or to empty tables: the owner migrates and the
superuser clears up.
"""

import gc
import ipaddress
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unittest import mock

import psycopg
import pytest
import uvicorn
from django import conf
from django.db import connections
from django.db.backends.postgresql.base import DatabaseWrapper
from django.test import TransactionTestCase, override_settings
from hypothesis import HealthCheck, Phase, settings
from psycopg import sql
from pytest_django import DjangoDbBlocker

from config.servers import free_port

if TYPE_CHECKING:
    from tests.stages import Stages

ROOT = Path(__file__).resolve().parent.parent
STATIC_FILES = "servestatic.middleware.ServeStaticMiddleware"
TEMPLATE = "test_board_template"
WHOLE_STACK = list(conf.settings.MIDDLEWARE)

# How many examples a property is tried on, where it does not say so itself: `make soak` takes the second.
settings.register_profile("quick", max_examples=200, deadline=None)
settings.register_profile(
    "thorough", max_examples=5000, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
# For `make mutate`: always the same examples, and the first that fails is enough.
for name, examples in (("mutants_first", 10), ("mutants", 100)):
    settings.register_profile(
        name,
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
    )
settings.load_profile("quick")


def pytest_collection_finish() -> None:
    """What is loaded by now stays: the garbage collector need not look through it again and again."""
    gc.freeze()


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
def django_db_setup(database_name: str, admin_url: str) -> Iterator[None]:
    """Make the test database and point Django there."""
    name = sql.Identifier(database_name)
    with psycopg.connect(_url("ADMIN_DATABASE_URL", "postgres"), autocommit=True) as server:
        # One process migrates, the others wait and copy what it made; nor may a template be in use when
        # copied.
        server.execute("SELECT pg_advisory_lock(1)")
        if not server.execute("SELECT FROM pg_database WHERE datname = %s", [TEMPLATE]).rowcount:
            _make_template(server)
        server.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))
        server.execute(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(name, sql.Identifier(TEMPLATE)))
        server.execute("SELECT pg_advisory_unlock(1)")
        board = connections["default"]
        assert isinstance(board, DatabaseWrapper)
        board.settings_dict["NAME"] = database_name
        with mock.patch.object(TransactionTestCase, "_fixture_teardown", _teardown(admin_url)):
            yield
        connections.close_all()
        board.close_pool()
        server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(name))


@pytest.fixture(scope="session")
def _stages(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, admin_url: str, database_name: str
) -> "Iterator[Stages]":
    # Not at the top: the pure tests run without Django's models as well.
    from tests.stages import Stages, load

    with django_db_blocker.unblock():
        stages = Stages(admin_url, database_name)
        stages.make("the demo", None, load)
        yield stages
        stages.close()


def _make_template(server: psycopg.Connection[Any]) -> None:
    # A copy of the empty database, which has the default rights of the roles. The name tells that it is done.
    server.execute("DROP DATABASE IF EXISTS test_board_new")
    server.execute("CREATE DATABASE test_board_new TEMPLATE board OWNER board_owner")
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--no-input", "--verbosity=0"],
        env=os.environ | {"DATABASE_URL": _url("OWNER_DATABASE_URL", "test_board_new")},
        cwd=ROOT,
        check=True,
    )
    server.execute(sql.SQL("ALTER DATABASE test_board_new RENAME TO {}").format(sql.Identifier(TEMPLATE)))


def _teardown(admin_url: str) -> Callable[[TransactionTestCase], None]:
    """What stands in for Django's flush after a test with real transactions: every table gets the rows back
    that the migrations left in it, and no trigger is asked."""
    with psycopg.connect(admin_url) as admin:
        found = admin.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1")
        tables = [sql.Identifier(name) for (name,) in found]
        kept: list[tuple[sql.Identifier, bytes]] = []
        for table in tables:
            with admin.cursor().copy(sql.SQL("COPY {} TO STDOUT").format(table)) as rows:
                kept.append((table, b"".join(bytes(row) for row in rows)))
    empty = sql.SQL("; ").join(sql.SQL("DELETE FROM {}").format(table) for table in tables)

    def clear(case: TransactionTestCase) -> None:
        connections.close_all()
        with psycopg.connect(admin_url) as admin:
            # Neither foreign keys nor guards bite here; a test that left a transaction open is told so.
            admin.execute("SET session_replication_role = replica; SET lock_timeout = '10s'")
            admin.execute(empty)
            for table, rows in kept:
                if rows:
                    with admin.cursor().copy(sql.SQL("COPY {} FROM STDIN").format(table)) as back:
                        back.write(rows)

    return clear


@pytest.fixture(scope="session")
def web(django_db_setup: None) -> Iterator[str]:
    """The address of the board's own web server, in a thread of this process and on its test database.
    (Django's `live_server` speaks WSGI and hangs on a stream.)"""
    with override_settings(MIDDLEWARE=WHOLE_STACK):
        from config.asgi import application

    port = free_port()
    config = uvicorn.Config(
        application,
        host="127.0.0.1",
        port=port,
        lifespan="off",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=1,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, name="web")
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


@pytest.fixture(scope="session", autouse=True)
def _quick_passwords() -> Iterator[None]:
    """Signing in costs a tenth of a second by design, which no test needs."""
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture(scope="session", autouse=True)
def _no_static_files() -> Iterator[None]:
    """Every test client builds its middleware anew, and for the static files that means to look through
    all of them: three quarters of a request's time. The web server in `web` has them."""
    with override_settings(MIDDLEWARE=[one for one in WHOLE_STACK if one != STATIC_FILES]):
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
