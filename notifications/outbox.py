"""The outbox: promise a notice, claim it, settle it, and decide about it.

Every change of state is one conditional UPDATE through `_move`; the number of rows it changed is the answer.
"""

from email.utils import make_msgid, parseaddr
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import QuerySet

from notifications import wakeup
from notifications.models import Notice
from notifications.states import State, before


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


def _move(notices: QuerySet[Notice], *, to: State, **columns: Any) -> int:
    """Move those of `notices` that may become `to`; the only writer of `state`. Returns how many moved."""
    return notices.filter(state__in=before(to)).update(state=to, **columns)
