"""Promise, claim, settle, decide: each by its answer and by what stands in the row."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.db.models.functions import Now
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notifications import outbox, selectors
from notifications.channels import NotTaken, Result, Sent, Unknown
from notifications.models import Notice
from notifications.outbox import NoLongerTrue
from notifications.states import State

pytestmark = pytest.mark.django_db

Promise = Callable[..., Notice]
BY = "Ines Marlow"


def claimed() -> Notice:
    notice = outbox.claim()
    assert notice is not None
    return notice


def row(notice: Notice) -> Notice:
    return Notice.objects.get(id=notice.id)


def end_lease(notice: Notice) -> None:
    Notice.objects.filter(id=notice.id).update(lease_until=Now() - timedelta(seconds=1))


def due_now(notice: Notice) -> None:
    Notice.objects.filter(id=notice.id).update(next_try_at=Now() - timedelta(seconds=1))


# --- promise ---


def test_a_promise_waits_and_hints_once_committed(
    promise: Promise, hints: list[None], django_capture_on_commit_callbacks: Callable[..., object]
) -> None:
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        notice = promise()
        assert hints == []
    assert hints == [None]
    assert notice.state == State.WAITING
    assert notice.message_id.endswith(".notice@orrinvale.example>")


def test_a_second_identical_promise_does_nothing(promise: Promise) -> None:
    first = promise()
    assert promise(body="Other words for the same fact.").body == first.body
    assert Notice.objects.count() == 1


def test_one_recipient_with_two_premises_is_told_about_each(promise: Promise) -> None:
    """Somebody who pays for two houses: the text names the address, and each premises has its own record."""
    promise(about="1041")
    promise(about="1042")
    assert [len(selectors.told(about)) for about in ["1041", "1042"]] == [1, 1]


def test_a_promise_falls_with_its_change(hints: list[None]) -> None:
    with transaction.atomic():
        outbox.enqueue(fact="f", channel="email", recipient="r@x.example", about="1", subject="s", body="b")
        transaction.set_rollback(True)
    assert not Notice.objects.exists()
    assert hints == []


@pytest.mark.django_db(transaction=True)
def test_a_promise_outside_a_transaction_is_a_mistake_of_ours() -> None:
    with pytest.raises(RuntimeError, match="inside the transaction"):
        outbox.enqueue(fact="f", channel="email", recipient="r@x.example", about="1", subject="s", body="b")


def test_a_newer_fact_takes_the_place_of_what_waits(promise: Promise) -> None:
    waiting, other = promise("interruption:17:off"), promise("interruption:18:off")
    back = promise("interruption:17:back", supersedes="interruption:17:off")
    assert [row(n).state for n in (waiting, other, back)] == [State.SUPERSEDED, State.WAITING, State.WAITING]
    assert row(waiting).reason == "A newer notice took its place."


def test_what_is_being_sent_or_was_sent_is_not_taken_back(promise: Promise) -> None:
    promise("interruption:17:off", about="1")
    sending = claimed()
    promise("interruption:17:back", supersedes="interruption:17:off")
    assert row(sending).state == State.SENDING
    assert outbox.settle(sending, Sent("250 OK"))
    promise("interruption:17:again", supersedes="interruption:17:off")
    assert row(sending).state == State.SENT


# --- claim ---


def test_a_claim_takes_the_one_that_is_due_longest(promise: Promise) -> None:
    second, first, later = promise("f:2"), promise("f:1"), promise("f:3")
    Notice.objects.filter(id=first.id).update(next_try_at=Now() - timedelta(minutes=2))
    Notice.objects.filter(id=second.id).update(next_try_at=Now() - timedelta(minutes=1))
    Notice.objects.filter(id=later.id).update(next_try_at=Now() + timedelta(minutes=1))
    assert [claimed().id, claimed().id] == [first.id, second.id]
    assert outbox.claim() is None


def test_a_claim_holds_a_lease(promise: Promise) -> None:
    promise()
    notice = claimed()
    assert notice.state == State.SENDING
    assert notice.attempts == 1
    assert notice.claimed_by
    assert notice.lease_until is not None
    assert abs((notice.lease_until - timezone.now()).total_seconds() - 60) < 5


def test_a_claim_reads_only_what_waits(promise: Promise) -> None:
    """However many were sent before: the partial index holds only those that wait."""
    for n in range(3):
        promise(f"f:{n}")
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute(
            "EXPLAIN SELECT id FROM notifications_notice WHERE state = 'waiting' AND next_try_at <= now()"
            " ORDER BY next_try_at, id LIMIT 1 FOR UPDATE SKIP LOCKED"
        )
        assert "Index Scan using notice_waiting" in "\n".join(line for (line,) in cursor.fetchall())


# --- settle ---

RESULTS: list[tuple[Result | NoLongerTrue, State, str]] = [
    (Sent("250 taken"), State.SENT, "250 taken"),
    (NotTaken("451 later", try_again=True), State.WAITING, "451 later"),
    (NotTaken("refused", try_again=True, unreachable=True), State.WAITING, "refused"),
    (NotTaken("550 no", try_again=False), State.FAILED, "550 no"),
    (Unknown("silence"), State.UNCONFIRMED, "silence"),
    (NoLongerTrue("moved"), State.SUPERSEDED, "moved"),
]


@pytest.mark.parametrize(("result", "state", "reason"), RESULTS)
def test_each_result_has_its_state(promise: Promise, result: Result, state: State, reason: str) -> None:
    promise()
    notice = claimed()
    assert outbox.settle(notice, result)
    settled = row(notice)
    assert (settled.state, settled.reason, settled.lease_until) == (state, reason, None)
    assert (settled.sent_at is not None) == (state == State.SENT)


@pytest.mark.parametrize("result", [result for result, _, _ in RESULTS])
def test_a_late_worker_still_tells_how_it_ended(promise: Promise, result: Result) -> None:
    promise()
    notice = claimed()
    end_lease(notice)
    assert outbox.expire() == 1
    assert row(notice).state == State.UNCONFIRMED
    assert outbox.settle(notice, result) == (not isinstance(result, Unknown))


@pytest.mark.parametrize("result", [result for result, _, _ in RESULTS])
@pytest.mark.parametrize("decide", [outbox.send_again, outbox.mark_sent, outbox.give_up])
def test_a_late_worker_can_not_undo_a_decision(
    promise: Promise, result: Result, decide: Callable[[int, str], bool]
) -> None:
    promise()
    notice = claimed()
    end_lease(notice)
    outbox.expire()
    assert decide(notice.id, BY)
    decided = row(notice)
    assert not outbox.settle(notice, result)
    assert (row(notice).state, row(notice).reason) == (decided.state, decided.reason)


def test_a_late_worker_can_not_settle_the_claim_of_another(promise: Promise) -> None:
    promise()
    late = claimed()
    end_lease(late)
    outbox.expire()
    outbox.send_again(late.id, BY)
    second = claimed()
    assert second.id == late.id
    assert not outbox.settle(late, NotTaken("550 no", try_again=False))
    assert outbox.settle(second, Sent("250 OK"))


def test_trying_again_waits_longer_each_time_and_ends(promise: Promise) -> None:
    promise()
    pauses = []
    for _ in range(outbox.MOST_ATTEMPTS):
        notice = claimed()
        outbox.settle(notice, NotTaken("451 later", try_again=True))
        settled = row(notice)
        if settled.state == State.WAITING:
            pauses.append(round((settled.next_try_at - timezone.now()).total_seconds() / 30))
        due_now(notice)
    assert pauses == [1, 2, 4, 8, 16, 32, 64, 64, 64, 64, 64]
    assert row(notice).state == State.FAILED
    assert row(notice).reason == "451 later"
    assert outbox.claim() is None


def test_only_an_ended_lease_expires(promise: Promise) -> None:
    promise("f:1")
    promise("f:2")
    first, second = claimed(), claimed()
    end_lease(first)
    assert outbox.expire() == 1
    assert [row(first).state, row(second).state] == [State.UNCONFIRMED, State.SENDING]


# --- decide ---

Decision = Callable[[int, str], bool]


def attend(notice_id: int, by: str) -> bool:
    return outbox.attend(notice_id, by, "told by telephone at 14:10")


@pytest.mark.parametrize(
    ("decide", "from_unconfirmed", "from_failed"),
    [
        (outbox.send_again, State.WAITING, State.WAITING),
        (outbox.mark_sent, State.SENT, None),
        (outbox.give_up, State.FAILED, None),
        (attend, None, State.FAILED),
    ],
)
@pytest.mark.parametrize("state", State)
def test_a_person_decides_only_what_needs_a_person(
    promise: Promise,
    decide: Decision,
    from_unconfirmed: State | None,
    from_failed: State | None,
    state: State,
) -> None:
    promise()
    if state != State.WAITING:
        notice = claimed()
        for result, ends, _ in RESULTS:
            if ends == state:
                outbox.settle(notice, result)
    notice = Notice.objects.get()
    assert notice.state == state
    target = {State.UNCONFIRMED: from_unconfirmed, State.FAILED: from_failed}.get(state)
    assert decide(notice.id, BY) == (target is not None)
    assert row(notice).state == target or state
    assert (BY in row(notice).reason) == (target is not None)
    assert (row(notice).decided_by == BY) == (target not in {None, State.WAITING})
    # Whoever comes second changes nothing.
    assert not decide(notice.id, "Somebody else")
    assert "Somebody else" not in row(notice).reason


def test_sent_again_is_the_same_message(promise: Promise) -> None:
    promised = promise()
    outbox.settle(claimed(), Unknown("silence"))
    outbox.send_again(promised.id, BY)
    again = claimed()
    assert (again.message_id, again.body, again.attempts) == (promised.message_id, promised.body, 1)


def test_an_undecided_notice_is_on_the_list_until_it_is_decided(promise: Promise) -> None:
    promise()
    notice = claimed()
    outbox.settle(notice, NotTaken("550 no such mailbox", try_again=False))
    assert list(selectors.needs_a_person()) == [notice]
    attend(notice.id, BY)
    assert list(selectors.needs_a_person()) == []
    assert row(notice).reason == f"550 no such mailbox {BY}: told by telephone at 14:10"


# --- all together ---

STEPS = st.lists(
    st.sampled_from(
        [
            "taken", "declined for now", "declined for good", "silence", "moved", "killed before the dot",
            "killed after the dot", "told to send again", "told it arrived", "given up", "superseded",
        ]
    ),
    max_size=12,
)  # fmt: skip


@given(steps=STEPS)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_never_lost_and_never_sent_again_blindly(promise: Promise, steps: list[str]) -> None:
    """Whatever happens in whatever order: the server may have the message at most once, and once more for
    each time a person ordered it; and it always stands where a worker, a person or the record finds it.
    """
    with transaction.atomic():
        promised = promise(f"f:{steps}")
        handed_over, ordered = 0, 0
        for step in steps:
            due_now(promised)
            match step:
                case "told to send again":
                    ordered += outbox.send_again(promised.id, BY)
                case "told it arrived":
                    outbox.mark_sent(promised.id, BY)
                case "given up":
                    outbox.give_up(promised.id, BY)
                case "superseded":
                    promise(f"g:{steps}", supersedes=promised.fact, recipient="")
                    Notice.objects.filter(fact=f"g:{steps}", state=State.WAITING).update(
                        next_try_at=Now() + timedelta(days=1)
                    )
                case _:
                    if (notice := outbox.claim()) is None:
                        continue
                    assert notice.id == promised.id
                    handed_over += step in {"taken", "silence", "killed after the dot"}
                    if step.startswith("killed"):
                        end_lease(notice)
                        outbox.expire()
                    else:
                        results: dict[str, Result | NoLongerTrue] = {
                            "taken": Sent("250"),
                            "declined for now": NotTaken("451", try_again=True),
                            "declined for good": NotTaken("550", try_again=False),
                            "silence": Unknown("silence"),
                            "moved": NoLongerTrue("moved"),
                        }
                        assert outbox.settle(notice, results[step])
        assert handed_over <= 1 + ordered
        ended = row(promised)
        found = [promised in selectors.on_their_way(), promised in selectors.needs_a_person()]
        told = ended.state in {State.SENT, State.SUPERSEDED} or (
            ended.state == State.FAILED and ended.decided_by == BY
        )
        assert [*found, told].count(True) == 1
        if ended.state == State.SENT:
            assert handed_over >= 1 or ended.decided_by == BY
        transaction.set_rollback(True)
