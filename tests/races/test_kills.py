"""A process of the board or its PostgreSQL is killed in the middle of a stream of acts: whatever was answered
"done" is there, nothing is half done, and the log replayed is what the tables say.

On a PostgreSQL of its own, which writes through to the disk as the board's own does.
"""

import contextlib
import logging
import os
import random
import select
import signal
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.core.management import call_command
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from pytest_django import DjangoDbBlocker

from clearances import flags, log, replay
from clearances.models import Clearance, LogEntry
from clearances.services.verb import Done, Outcome
from config.servers import Servers
from notifications import wakeup
from tests.cast import Cast
from tests.days.going_on import GoingOn
from tests.stages import load

KILLS = int(os.environ.get("KILLS", "25"))
log_of_tests = logging.getLogger(__name__)
SEED = int(os.environ.get("SEED", "1910"))


class Board(Servers):
    """A PostgreSQL that can be killed and started again; no Redis."""

    def start(self) -> None:
        self._start_postgres()

    def kill(self) -> None:
        """As an immediate shutdown: nothing is saved, nobody is waited for."""
        postgres = self.children.pop()
        postgres.process.send_signal(signal.SIGQUIT)
        postgres.process.wait(30)


@contextlib.contextmanager
def connected(url: str) -> Iterator[None]:
    """The default connection is to another server for a while."""
    parts = urlsplit(url)
    outside = connections["default"]
    inside: BaseDatabaseWrapper = outside.copy()
    inside.settings_dict |= {
        "NAME": parts.path.strip("/"),
        "USER": parts.username,
        "PASSWORD": parts.password,
        "HOST": parts.hostname,
        "PORT": str(parts.port),
        "OPTIONS": inside.settings_dict["OPTIONS"] | {"pool": False},
    }
    connections["default"] = inside
    try:
        yield
    finally:
        inside.close()
        connections["default"] = outside


class Stream(GoingOn):
    """Acts without an end, each answered one told to whoever listens at the other end of a pipe."""

    def __init__(self, pipe: int, seed: int) -> None:
        self.cast, self.pipe, self.random = Cast.present(), pipe, random.Random(seed)

    def did(self, outcome: Outcome, *, seen: bool = False) -> Outcome:
        if isinstance(outcome, Done):
            os.write(self.pipe, f"{outcome.entry.number}\n".encode())
        return super().did(outcome, seen=seen)

    def run(self) -> None:
        while True:
            going = [row for row in Clearance.objects.order_by("pk") if row.job.state == "active"]
            if len(going) < 2:
                going.append(self.cast.asked(holder=self.random.choice([self.cast.ana, self.cast.bo])))
            row = self.random.choice(going)
            if row.state == "accepted" and self.random.random() < 0.6:
                verb: Any = self.random.choice([self.sign, self.ground])
                verb(row, self.random.choice(["G3", "G5"]), off=self.random.random() < 0.3)
            else:
                self.right(row)


def streaming(seed: int) -> tuple[int, int]:
    """A process of its own that acts; its number, and the end of the pipe at which it can be heard."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            connections["default"].connection = None  # the parent's
            Stream(tell, seed).run()
        os._exit(1)
    os.close(tell)
    return child, hear


@pytest.fixture(scope="module")
def board(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Board]:
    servers = Board(tmp_path_factory.mktemp("board"), lasting=True)
    with pytest.MonkeyPatch.context() as patch, django_db_blocker.unblock():
        patch.setattr(wakeup, "hint", lambda: None)
        patch.setattr(flags, "refresh", lambda: None)
        servers.start()
        try:
            with connected(servers.database_url("board_owner")):
                call_command("migrate", "--no-input", verbosity=0)
            with connected(servers.database_url("board_app")):
                load()
            yield servers
        finally:
            servers.stop()


def test_what_was_answered_is_there_whatever_is_killed(board: Board) -> None:
    chance = random.Random(SEED)
    answered, entries = 0, 0
    for kill in range(KILLS):
        of_postgres = kill % 5 == 4
        with connected(board.database_url("board_app")):
            child, hear = streaming(SEED + kill)
        select.select([hear], [], [], 20)  # it is under way
        time.sleep(chance.uniform(0, 0.5))
        if of_postgres:
            board.kill()
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(hear) as told:
            numbers = [int(line) for line in told]
        if of_postgres:
            board.start()
        with connected(board.database_url("board_app")):
            there = set(LogEntry.objects.filter(number__in=numbers).values_list("number", flat=True))
            assert there == set(numbers)
            assert [*log.faults(), *replay.differences()] == []
            entries = LogEntry.objects.count()
        answered += len(numbers)
    log_of_tests.info("%d kills: %d acts were answered, %d entries", KILLS, answered, entries)
    assert answered > KILLS, "too little was under way to be killed"
    assert entries >= answered
