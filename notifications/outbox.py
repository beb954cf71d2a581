"""The outbox: promise a notice, claim it, settle it, and decide about it.

Every change of state is one conditional UPDATE through `_move`; the number of rows it changed is the answer.
"""

import uuid
from dataclasses import dataclass
from datetime import timedelta
from email.utils import make_msgid, parseaddr
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F, QuerySet, Subquery, TextField, Value
from django.db.models.functions import Concat, Now

from notifications import wakeup
from notifications.channels import NotTaken, Result, Sent, Unknown
from notifications.models import Notice
from notifications.states import State, before

MOST_ATTEMPTS = 12


@dataclass(frozen=True)
class NoLongerTrue:
    """What the notice says stopped being true before it went."""

    reason: str


def enqueue(
    *, fact: str, channel: str, recipient: str, about: str, subject: str, body: str, supersedes: str = ""
) -> None:
    """Promise to tell `recipient` the `fact` about the premises `about`, in the caller's transaction.

    A second identical call does nothing. With `supersedes`, whatever still waits of that older fact will not
    go. No address is refused here, however odd or empty: a notice that can't go must never stop the record of
    what was done in the field. It fails when it is sent, with a reason, and is shown to a person.

    Raises RuntimeError outside a transaction, because the promise would not stand or fall with the change.
    Cost: one INSERT, and one UPDATE with `supersedes`.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("A notice is promised inside the transaction of the change it tells of.")
    if supersedes:
        stale = Notice.objects.filter(fact=supersedes, state=State.WAITING)
        # Locked in one order, so that two changes superseding the same fact can't deadlock.
        locked = list(stale.order_by("id").select_for_update().values_list("id", flat=True))
        _move(stale.filter(id__in=locked), to=State.SUPERSEDED, reason="A newer notice took its place.")
    domain = parseaddr(settings.NOTICE_FROM)[1].rpartition("@")[2]
    notice = Notice(
        fact=fact, channel=channel, recipient=recipient, about=about, subject=subject, body=body,
        message_id=make_msgid("notice", domain),
    )  # fmt: skip
    Notice.objects.bulk_create([notice], ignore_conflicts=True)
    transaction.on_commit(wakeup.hint, robust=True)


def claim() -> Notice | None:
    """Take the next notice that waits, for NOTICE_LEASE_SECONDS; None when none is due.

    Any number of workers may claim at once: a row that another one is taking is skipped, not waited for.
    """
    token = uuid.uuid4().hex
    due = Notice.objects.filter(state=State.WAITING, next_try_at__lte=Now()).order_by("next_try_at", "id")
    with transaction.atomic():
        first = due.select_for_update(skip_locked=True).values("id")[:1]
        taken = _move(
            Notice.objects.filter(id=Subquery(first)),
            to=State.SENDING,
            claimed_by=token,
            lease_until=Now() + timedelta(seconds=settings.NOTICE_LEASE_SECONDS),
            attempts=F("attempts") + 1,
        )
        return Notice.objects.get(state=State.SENDING, claimed_by=token) if taken else None


def settle(notice: Notice, result: Result | NoLongerTrue) -> bool:
    """Write down how sending a claimed notice ended. False: the claim was no longer ours, nothing is written.

    A worker that comes late may still settle what became `unconfirmed` meanwhile, because it knows how it
    ended; not after a person has decided.
    """
    ours = Notice.objects.filter(
        id=notice.id, claimed_by=notice.claimed_by, state__in=[State.SENDING, State.UNCONFIRMED]
    )
    match result:
        case Sent(answer):
            moved = _move(ours, to=State.SENT, sent_at=Now(), reason=answer, lease_until=None)
        case NoLongerTrue(reason):
            moved = _move(ours, to=State.SUPERSEDED, reason=reason, lease_until=None)
        case Unknown(reason):
            moved = _move(ours, to=State.UNCONFIRMED, reason=reason, lease_until=None)
        case NotTaken(reason, try_again=True) if notice.attempts < MOST_ATTEMPTS:
            later = Now() + pause_after(notice.attempts)
            moved = _move(ours, to=State.WAITING, reason=reason, next_try_at=later, lease_until=None)
        case NotTaken(reason):
            moved = _move(ours, to=State.FAILED, reason=reason, lease_until=None)
    return moved == 1


def expire() -> int:
    """Give up on the workers whose lease has ended; returns how many notices became `unconfirmed`.

    Nobody knows how far such a worker got, and mail can't be sent again blindly, so a person decides.
    """
    return _move(
        Notice.objects.filter(state=State.SENDING, lease_until__lt=Now()),
        to=State.UNCONFIRMED,
        reason="The worker that was sending it stopped before it could say how that ended.",
        lease_until=None,
    )


def pause_after(attempts: int) -> timedelta:
    """How long to wait after so many attempts: one sweep, doubled each time, at most 64 sweeps."""
    return timedelta(seconds=settings.NOTICE_SWEEP_SECONDS * min(2 ** (attempts - 1), 64))


def send_again(notice_id: int, by: str) -> bool:
    """The person `by` has a failed or unconfirmed notice sent again, with its old Message-ID.

    This and the other decisions return False, and change nothing, when there is nothing left to decide, such
    as when another person was quicker.
    """
    undecided = _undecided(notice_id, State.FAILED, State.UNCONFIRMED)
    return _decide(undecided, State.WAITING, by, "ordered it sent again", attempts=0, next_try_at=Now())


def mark_sent(notice_id: int, by: str) -> bool:
    """The person `by` knows that an unconfirmed notice arrived."""
    return _decide(
        _undecided(notice_id, State.UNCONFIRMED), State.SENT, by, "knows that it arrived", sent_at=Now()
    )


def give_up(notice_id: int, by: str) -> bool:
    """The person `by` decides that an unconfirmed notice will not be sent again."""
    return _decide(_undecided(notice_id, State.UNCONFIRMED), State.FAILED, by, "gave it up")


def attend(notice_id: int, by: str, how: str) -> bool:
    """The person `by` has dealt with a failed notice in another way, told in the words `how`."""
    failed = _undecided(notice_id, State.FAILED)
    return failed.update(decided_by=by, reason=_and(f"{by}: {how}")) == 1


def _undecided(notice_id: int, *states: State) -> QuerySet[Notice]:
    return Notice.objects.filter(id=notice_id, state__in=states, decided_by="")


def _decide(notices: QuerySet[Notice], to: State, by: str, what: str, **columns: Any) -> bool:
    decided_by = "" if to == State.WAITING else by
    return _move(notices, to=to, decided_by=decided_by, reason=_and(f"{by} {what}."), **columns) == 1


def _and(sentence: str) -> Concat:
    """The reason so far with one more sentence."""
    return Concat("reason", Value(f" {sentence}"), output_field=TextField())


def _move(notices: QuerySet[Notice], *, to: State, **columns: Any) -> int:
    """Move those of `notices` that may become `to`; the only writer of `state`. Returns how many moved."""
    return notices.filter(state__in=before(to)).update(state=to, **columns)
