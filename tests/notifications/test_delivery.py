"""The sweep over real PostgreSQL and real SMTP, with several workers at once."""

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import pytest
from django.db import connections, transaction
from django.test import override_settings

from notifications import delivery, outbox, selectors
from notifications.models import Notice
from notifications.states import State
from tests.notifications.post import DROP, Post

pytestmark = pytest.mark.django_db(transaction=True)

Promise = Callable[..., Notice]
PostOffice = Callable[..., Post]
T = TypeVar("T")


def row(notice: Notice) -> Notice:
    return Notice.objects.get(id=notice.id)


def in_threads(count: int, act: Callable[[], T]) -> list[T]:
    """Run `act` in so many threads at once, each with its own connection to PostgreSQL."""

    def alone(_: int) -> T:
        try:
            return act()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(alone, range(count)))


def test_what_waits_is_sent_once_and_recorded(promise: Promise, post_office: PostOffice) -> None:
    notice, post = promise(), post_office()
    assert delivery.sweep(seconds=20) == 1
    assert delivery.sweep(seconds=20) == 0
    assert [letter["Message-ID"] for letter in post.letters] == [notice.message_id]
    told = selectors.told(notice.about)
    assert [(n.state, n.reason) for n in told] == [(State.SENT, "250 taken as 4711")]
    assert told[0].sent_at is not None


def test_workers_at_once_send_each_notice_once(promise: Promise, post_office: PostOffice) -> None:
    post = post_office()
    notices = [promise(f"interruption:17:{n}", recipient=f"c{n}@quarrylane.example") for n in range(60)]
    settled = in_threads(4, lambda: delivery.sweep(seconds=60))
    assert sum(settled) == 60
    assert min(settled) > 0, "one worker did it all: nothing was shown"
    assert Counter(letter["Message-ID"] for letter in post.letters) == Counter(n.message_id for n in notices)
    assert selectors.counts()[State.SENT] == 60


def test_claims_at_once_never_take_the_same(promise: Promise) -> None:
    for n in range(80):
        promise(f"f:{n}")

    def take_all() -> list[int]:
        taken = []
        while notice := outbox.claim():
            taken.append(notice.id)
        return taken

    taken = sorted(notice_id for mine in in_threads(8, take_all) for notice_id in mine)
    assert taken == sorted(Notice.objects.values_list("id", flat=True))


def test_a_claim_does_not_wait_for_one_that_another_is_taking(promise: Promise) -> None:
    first, second = promise("f:1"), promise("f:2")
    with transaction.atomic():
        Notice.objects.select_for_update().get(id=first.id)
        ((taken,),) = [in_threads(1, outbox.claim)]
    assert taken == second


def test_the_same_fact_promised_at_once_is_one_notice(promise: Promise) -> None:
    in_threads(6, lambda: promise())
    assert Notice.objects.count() == 1


def test_superseding_at_once_does_not_deadlock(promise: Promise) -> None:
    for n in range(20):
        promise("interruption:17:off", about=str(n))
    in_threads(6, lambda: promise("interruption:17:back", supersedes="interruption:17:off"))
    assert selectors.counts()[State.SUPERSEDED] == 20
    assert selectors.counts()[State.WAITING] == 1


def test_what_is_no_longer_true_is_not_sent(promise: Promise, post_office: PostOffice) -> None:
    notice, post = promise("clearance:41:planned:untrue"), post_office()
    delivery.sweep(seconds=20)
    assert (row(notice).state, row(notice).reason) == (State.SUPERSEDED, "The job was moved to another day.")
    assert post.letters == []


def test_what_can_not_be_asked_about_waits(
    promise: Promise, post_office: PostOffice, caplog: pytest.LogCaptureFixture
) -> None:
    notice, post = promise("clearance:41:planned:broken"), post_office()
    delivery.sweep(seconds=20)
    assert row(notice).state == State.WAITING
    assert row(notice).reason == "It could not be asked whether it is still true."
    assert "could not ask whether it is still true" in caplog.text
    assert post.letters == []


def test_no_way_to_send_fails_with_its_reason(promise: Promise) -> None:
    notice = promise(channel="carrier pigeon")
    delivery.sweep(seconds=20)
    assert (row(notice).state, row(notice).reason) == (
        State.FAILED,
        "There is no way to send by carrier pigeon.",
    )


def test_no_address_fails_and_is_shown_to_a_person(promise: Promise) -> None:
    notice = promise(recipient="")
    delivery.sweep(seconds=20)
    assert list(selectors.needs_a_person()) == [row(notice)]
    assert row(notice).reason == "No e-mail address is on file."


def test_one_bad_address_does_not_hold_up_the_others(promise: Promise, post_office: PostOffice) -> None:
    bad, good = promise("f:1", recipient="nobody"), promise("f:2")
    post = post_office()
    delivery.sweep(seconds=20)
    assert [row(n).state for n in (bad, good)] == [State.FAILED, State.SENT]
    assert len(post.letters) == 1


def test_without_a_mail_server_one_is_tried_and_the_rest_wait(promise: Promise) -> None:
    notices = [promise(f"f:{n}") for n in range(5)]
    assert delivery.sweep(seconds=20) == 1
    assert [row(n).attempts for n in notices] == [1, 0, 0, 0, 0]
    assert selectors.counts()[State.WAITING] == 5


def test_silence_after_the_dot_is_for_a_person(promise: Promise, post_office: PostOffice) -> None:
    notice, post = promise(), post_office(dot=DROP)
    delivery.sweep(seconds=20)
    post.behaviour = {}
    delivery.sweep(seconds=20)
    assert len(post.letters) == 1
    assert list(selectors.needs_a_person()) == [row(notice)]
    assert outbox.send_again(notice.id, "Ines Marlow")
    delivery.sweep(seconds=20)
    assert row(notice).state == State.SENT
    # The receiver can tell that it is the same message.
    assert [letter["Message-ID"] for letter in post.letters] == [notice.message_id] * 2
    assert post.raw[0] == post.raw[1]


def test_nothing_is_claimed_once_told_to_stop(promise: Promise, post_office: PostOffice) -> None:
    post = post_office()
    promise()
    assert delivery.sweep(seconds=20, stopping=lambda: True) == 0
    assert post.letters == []


def test_sending_is_done_before_the_lease_ends(promise: Promise, post_office: PostOffice) -> None:
    """The server takes its time after the dot: the worker itself says so, before another's sweep would."""
    notice, post = promise(), post_office(dot="stall")
    with override_settings(NOTICE_LEASE_SECONDS=2):
        delivery.sweep(seconds=20)
    settled = row(notice)
    assert settled.state == State.UNCONFIRMED
    assert "did not answer" in settled.reason
    assert "timed out" in settled.reason
    assert len(post.letters) == 1


def test_a_heartbeat_is_one_row_however_often(promise: Promise) -> None:
    in_threads(4, lambda: delivery.beat("worker"))
    first = selectors.last_heard()["worker"]
    delivery.beat("worker")
    assert list(selectors.last_heard()) == ["worker"]
    assert selectors.last_heard()["worker"] > first
