"""The stream that says "look again", on a real web server and a real PostgreSQL."""

import http.client
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from urllib.parse import urlsplit

import psycopg
import pytest
from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import connections
from django.db.backends.postgresql.base import DatabaseWrapper
from django.test import Client

from config import live

pytestmark = pytest.mark.django_db(transaction=True)


class Stream:
    """One stream, read event by event."""

    def __init__(self, response: http.client.HTTPResponse) -> None:
        self.response = response

    def event(self) -> str:
        """The next event's name, or the next comment."""
        name = ""
        while line := self.response.readline().decode().strip():
            if line.startswith(("event: ", ": ")):
                name = line
        return name


@pytest.fixture
def cookie() -> str:
    client = Client()
    client.force_login(get_user_model().objects.create(username="desk", is_active=True))
    return f"{settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}"


@contextmanager
def _stream(web: str, cookie: str = "") -> Iterator[Stream]:
    connection = http.client.HTTPConnection(urlsplit(web).netloc, timeout=10)
    connection.request("GET", "/live/", headers={"Cookie": cookie})
    try:
        yield Stream(connection.getresponse())
    finally:
        connection.close()


def _listening(admin: psycopg.Connection) -> list[int]:
    rows = admin.execute(
        "SELECT pid FROM pg_stat_activity"
        " WHERE application_name = 'board live' AND datname = current_database()"
    )
    return [pid for (pid,) in rows]


def _until(what: str, true: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end, what
        time.sleep(0.05)


def test_a_stranger_gets_no_stream(web: str) -> None:
    with _stream(web) as stream:
        assert stream.response.status == 401


def test_many_streams_share_one_listening_connection_and_hold_no_other(
    web: str, cookie: str, admin_url: str
) -> None:
    pool = connections["default"]
    assert isinstance(pool, DatabaseWrapper)
    pool.close()  # this test's own
    with psycopg.connect(admin_url, autocommit=True) as admin, ExitStack() as stack:
        first = stack.enter_context(_stream(web, cookie))
        assert first.response.headers["Content-Type"] == "text/event-stream"
        # The second is for the start of the listening: everything may have changed before.
        assert [first.event(), first.event()] == ["event: look"] * 2
        streams = [first, *(stack.enter_context(_stream(web, cookie)) for _ in range(20))]
        assert [stream.event() for stream in streams[1:]] == ["event: look"] * 20
        assert len(_listening(admin)) == 1
        stats = pool.pool.get_stats()
        assert stats["pool_available"] == stats["pool_size"]
        admin.execute("NOTIFY board")
        assert [stream.event() for stream in streams] == ["event: look"] * 21
    with psycopg.connect(admin_url, autocommit=True) as admin:
        _until("with the last stream the listening ends", lambda: not _listening(admin))


def test_what_was_missed_in_a_gap_is_looked_at_afterwards(web: str, cookie: str, admin_url: str) -> None:
    with psycopg.connect(admin_url, autocommit=True) as admin, _stream(web, cookie) as stream:
        assert [stream.event(), stream.event()] == ["event: look"] * 2
        (listening,) = _listening(admin)
        admin.execute("SELECT pg_terminate_backend(%s)", [listening])
        assert stream.event() == "event: look"
        assert _listening(admin) != [listening]


def test_a_stream_says_that_it_hears_only_while_it_does(
    web: str, cookie: str, admin_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "KEEP_ALIVE_S", 0.2)
    monkeypatch.setattr(live, "RETRY_S", 1.0)
    with psycopg.connect(admin_url, autocommit=True) as admin, _stream(web, cookie) as stream:
        assert [stream.event() for _ in range(3)] == ["event: look", "event: look", "event: heard"]
        (listening,) = _listening(admin)
        admin.execute("SELECT pg_terminate_backend(%s)", [listening])
        _until("it says that it does not hear", lambda: stream.event() == ": not hearing changes")
        _until("it looks again", lambda: stream.event() == "event: look")


def test_a_stream_ends_and_is_asked_anew(web: str, cookie: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "KEEP_ALIVE_S", 0.1)
    monkeypatch.setattr(live, "STREAM_S", 0.5)
    with _stream(web, cookie) as stream:
        _until("the stream ends", lambda: stream.event() == "")
        assert stream.response.isclosed()
