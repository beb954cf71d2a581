"""What the tests of notices share."""

from collections.abc import Callable, Iterator

import pytest
from django.db import transaction
from django.test import override_settings

from notifications import outbox, wakeup
from notifications.models import Notice
from tests.notifications.post import Post


@pytest.fixture(autouse=True)
def settings_of_notices() -> Iterator[None]:
    """Nobody listens on port 9 (discard): a test that wants mail to arrive brings its own server."""
    with override_settings(
        NOTICE_STILL_TRUE="tests.notifications.truth.still_true",
        NOTICE_FROM="Orrin Vale Municipal Light <outages@orrinvale.example>",
        NOTICE_LEASE_SECONDS=60,
        NOTICE_SWEEP_SECONDS=30,
        EMAIL_HOST="127.0.0.1",
        EMAIL_PORT=9,
    ):
        yield


@pytest.fixture
def post_office() -> Iterator[Callable[..., Post]]:
    """Start mail servers, each with its behaviour, and point the settings at the newest one."""
    opened: list[tuple[Post, override_settings]] = []

    def open_post(**behaviour: str) -> Post:
        post = Post(**behaviour)
        post.__enter__()
        there = override_settings(EMAIL_HOST="127.0.0.1", EMAIL_PORT=post.port)
        there.enable()
        opened.append((post, there))
        return post

    yield open_post
    for post, there in reversed(opened):
        there.disable()
        post.__exit__(None, None, None)


@pytest.fixture
def hints(monkeypatch: pytest.MonkeyPatch) -> list[None]:
    """Counts the hints instead of sending them: only the tests of hints need Redis."""
    counted: list[None] = []
    monkeypatch.setattr(wakeup, "hint", lambda: counted.append(None))
    return counted


@pytest.fixture
def promise(hints: list[None]) -> Callable[..., Notice]:
    """Promise one notice in a transaction of its own; any argument of `enqueue` may be given."""

    def make(fact: str = "interruption:17:off", **changes: str) -> Notice:
        words = {
            "channel": "email",
            "recipient": "r.okafor@quarrylane.example",
            "about": "1041",
            "subject": "Power is off at 12 Quarry Lane",
            "body": "Power is off since 08:44. We expect it back by 14:00.\n",
        } | changes
        with transaction.atomic():
            outbox.enqueue(fact=fact, **words)
        return Notice.objects.get(fact=fact, about=words["about"], recipient=words["recipient"])

    return make
