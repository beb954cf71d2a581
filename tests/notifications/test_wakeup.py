"""The hint after a commit, in a process of its own: it reaches Redis; without Redis nobody waits for it."""

import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import redis

from config.servers import free_port
from notifications.models import Notice

pytestmark = pytest.mark.django_db(transaction=True)

ROOT = Path(__file__).resolve().parent.parent.parent
QUEUE = "celery"
# Changes with three notices each, as a web process with several threads makes them; prints their seconds.
PROGRAM = """
import json, sys, threading, time
import config.asgi
from django.db import connections, transaction
from notifications import outbox

def change(number):
    began = time.monotonic()
    with transaction.atomic():
        for about in "123":
            outbox.enqueue(
                fact=f"f:{number}", channel="email", recipient="r@x.example", about=about, subject="", body=""
            )
    took.append(time.monotonic() - began)
    connections.close_all()

took = []
change(0)  # opens the pool
took.clear()
for number in range(1, 6):
    thread = threading.Thread(target=change, args=[number])
    thread.start()
    thread.join()
time.sleep(float(sys.argv[1]))
print(json.dumps(took))
"""


def changes(app_url: str, redis_url: str, *, then_wait: float) -> list[float]:
    env = {
        "DATABASE_URL": app_url,
        "REDIS_URL": redis_url,
        "DJANGO_SETTINGS_MODULE": "tests.notifications.quick",
    }
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(then_wait)],
        cwd=ROOT, env=os.environ | env, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [float(seconds) for seconds in json.loads(done.stdout)]


@pytest.fixture
def silent_port() -> Iterator[int]:
    """A port that takes connections and never says a word."""
    with closing(socket.create_server(("127.0.0.1", 0))) as server:
        yield server.getsockname()[1]


def test_hints_reach_redis_and_several_become_one(app_url: str) -> None:
    # A database of its own: workers of other tests, side by side, take hints from the common one.
    url = os.environ["REDIS_URL"].rpartition("/")[0] + "/1"
    with redis.Redis.from_url(url) as client:
        before = client.llen(QUEUE)
        changes(app_url, url, then_wait=5)  # a busy machine takes its time
        sent = [json.loads(body) for body in client.lrange(QUEUE, 0, client.llen(QUEUE) - before - 1)]
        client.ltrim(QUEUE, len(sent), -1)
    # Eighteen notices in six transactions.
    assert 1 <= len(sent) <= 6
    assert {message["headers"]["task"] for message in sent} == {"notifications.tasks.sweep"}


@pytest.mark.parametrize("gone", ["refused", "silent"])
def test_without_redis_no_change_fails_or_waits(app_url: str, silent_port: int, gone: str) -> None:
    port = free_port() if gone == "refused" else silent_port
    took = changes(app_url, f"redis://127.0.0.1:{port}/0", then_wait=0)
    assert len(took) == 5
    # The broker's own time limit is 2 s and more; a change with its three notices takes some milliseconds.
    assert sorted(took)[2] < 0.2
    assert max(took) < 1
    assert Notice.objects.count() == 18
