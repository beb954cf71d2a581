"""Two people at the same moment: real threads, each with a database connection of its own."""

import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import psycopg
import pytest
from django.db import connections
from django.test import TransactionTestCase
from pytest_django import DjangoDbBlocker

from clearances import flags
from clearances.services.verb import Done, Outcome
from notifications import wakeup
from tests.cast import Cast
from tests.stages import load

ROUNDS = int(os.environ.get("ROUNDS", "50"))
FEW = max(1, ROUNDS // 5)  # of a race that is not of two people at one clearance; more with `make soak-board`
Act = Callable[[], Outcome]


@dataclass
class Race:
    """Who takes part, two threads that start at one word, and a superuser to set the stage again."""

    cast: Cast
    pool: ThreadPoolExecutor
    admin: psycopg.Connection

    def together(self, *acts: Act) -> list[Outcome]:
        start = threading.Barrier(len(acts))

        def run(act: Act) -> Outcome:
            start.wait(5)
            return act()

        return [future.result(30) for future in [self.pool.submit(run, act) for act in acts]]

    def again(self, *statements: str) -> None:
        """Set the stage for the next round by hand, past every rule."""
        for sql in statements:
            self.admin.execute(sql.encode())


@pytest.fixture(scope="module")
def _stage(django_db_setup: None, django_db_blocker: DjangoDbBlocker, admin_url: str) -> Iterator[Race]:
    """The demo, committed, for all tests of the file; then everything is emptied as after any such test."""
    with (
        pytest.MonkeyPatch.context() as patch,
        django_db_blocker.unblock(),
        psycopg.connect(admin_url, autocommit=True) as admin,
        ThreadPoolExecutor(2) as pool,
    ):
        patch.setattr(wakeup, "hint", lambda: None)
        patch.setattr(flags, "refresh", lambda: None)
        admin.execute("SET session_replication_role = replica")
        load()
        race = Race(Cast.present(), pool, admin)
        yield race
        race.together(*[_hang_up] * 2)
        TransactionTestCase()._fixture_teardown()  # type: ignore[attr-defined]


@pytest.fixture
def race(_stage: Race) -> Race:
    """The stage as the network has it: whatever the test before left is over, and its log stands."""
    _stage.again(
        "UPDATE clearances_clearance SET state = 'withdrawn'",
        "UPDATE clearances_step SET state = 'waiting' WHERE state = 'given'",
        "DELETE FROM clearances_tag",
        "DELETE FROM clearances_signon",
        "DELETE FROM clearances_interruption",
        "DELETE FROM circuits_positionreport",
    )
    return _stage


def _hang_up() -> Outcome:
    connections.close_all()
    return Done.__new__(Done)
