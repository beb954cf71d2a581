"""The demo's job is played once for every stage that tests ask for, not once for every test: each stage
stands, committed, in a database of its own (gone with the tests' servers), and what a test does there is
rolled back."""

from collections.abc import Callable

import psycopg
from django.core.management import call_command
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.transaction import Atomic
from psycopg import sql

from clearances import demo
from tests.conftest import TEMPLATE

NETWORK = "circuits/demo"


def load() -> None:
    """The demo's network and people."""
    call_command("import_network", NETWORK, verbosity=0)
    demo.load()


class Stages:
    """The databases of this process, and the one that the running test works in."""

    def __init__(self, admin_url: str, prefix: str) -> None:
        self._admin_url, self._prefix = admin_url, prefix
        self._made: dict[str, BaseDatabaseWrapper] = {}
        self._outside: BaseDatabaseWrapper | None = None
        self._work: Atomic | None = None

    def __contains__(self, name: str) -> bool:
        return name in self._made

    @property
    def untouched(self) -> bool:
        """Has the test that works in one of the databases written nothing so far?"""
        if self._work is None:
            return False
        with connections["default"].cursor() as cursor:
            cursor.execute("SELECT pg_current_xact_id_if_assigned() IS NULL")
            return bool(cursor.fetchone()[0])

    def make(self, name: str, like: str | None, play: Callable[[], object]) -> None:
        """A database like another (the empty one, where none is named) in which `play` was played."""
        if like:
            self._made[like].close()  # nobody may be connected to what is copied
        database = f"{self._prefix}_{len(self._made)}"
        source = str(self._made[like].settings_dict["NAME"]) if like else TEMPLATE
        names = map(sql.Identifier, (database, source))
        with psycopg.connect(self._admin_url, autocommit=True) as admin:
            admin.execute(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(*names))
        with psycopg.connect(self._admin_url, dbname=database, autocommit=True) as admin:
            # What this process keeps of a network it keeps by its number: no two databases have the same.
            admin.execute(
                "SELECT setval('circuits_networkrevision_id_seq', %s)", [1_000_000 * (len(self._made) + 1)]
            )
        wrapper = connections["default"].copy()
        wrapper.settings_dict |= {
            "NAME": database,
            "OPTIONS": wrapper.settings_dict["OPTIONS"] | {"pool": False},
        }
        self._made[name] = wrapper
        inside = connections["default"]
        connections["default"] = wrapper
        try:
            with transaction.atomic():
                play()
                wrapper.run_on_commit.clear()  # nobody is told of a play
        finally:
            connections["default"] = inside

    def enter(self, name: str) -> None:
        """From here on the test works in this database, in a transaction that `leave` rolls back."""
        self.leave()
        self._outside = connections["default"]
        connections["default"] = self._made[name]
        self._work = transaction.atomic()
        self._work._from_testcase = True  # type: ignore[attr-defined] # durable ones may lie within it
        self._work.__enter__()

    def leave(self) -> None:
        """What was done is looked over as a commit would, and undone."""
        if self._work is None or self._outside is None:
            return
        inside, work, self._work = connections["default"], self._work, None
        try:
            if not inside.needs_rollback:
                inside.check_constraints()
        finally:
            transaction.set_rollback(True)
            work.__exit__(None, None, None)
            connections["default"] = self._outside

    def close(self) -> None:
        """Leave every database."""
        for wrapper in self._made.values():
            wrapper.close()
