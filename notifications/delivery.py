"""From waiting to told: claim a notice, ask again if it is true, send it outside any transaction, settle."""

import logging
import time
from collections.abc import Callable

from django.conf import settings
from django.db import connection
from django.db.models.functions import Now
from django.utils.module_loading import import_string

from notifications import outbox
from notifications.channels import CHANNELS, Letter, NotTaken, Result
from notifications.models import Heartbeat, Notice

log = logging.getLogger(__name__)

# The part of its lease that a worker may spend on sending, so that it is done before anyone else may decide.
SHARE_OF_LEASE = 0.8


def sweep(*, seconds: float, stopping: Callable[[], bool] = lambda: False) -> int:
    """Give up on ended leases, then send what waits, for about `seconds`. Returns how many were settled.

    Stops early when the mail server can't be reached: then nothing else would go either. When anything came
    of it, the desk's open pages are told to look again.
    """
    if given_up := outbox.expire():
        log.warning("%d notices unconfirmed: their workers stopped while sending", given_up)
    settled = 0
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline and not stopping() and (notice := outbox.claim()):
        result = _attempt(notice)
        if not outbox.settle(notice, result):
            log.warning("Notice %d was decided by someone else meanwhile: %s", notice.id, result)
        settled += 1
        if isinstance(result, NotTaken) and result.unreachable:
            break
    if settled or given_up:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_notify('board', '')")  # open pages look again, once for all of them
    return settled


def beat(name: str) -> None:
    """Note that the background process `name` is alive."""
    Heartbeat.objects.update_or_create(name=name, defaults={"at": Now()})


def _attempt(notice: Notice) -> Result | outbox.NoLongerTrue:
    deadline = time.monotonic() + settings.NOTICE_LEASE_SECONDS * SHARE_OF_LEASE
    try:
        untrue = import_string(settings.NOTICE_STILL_TRUE)(notice.fact, notice.about)
    except Exception:  # nothing has left yet, so trying again is harmless
        log.exception("Notice %d: could not ask whether it is still true", notice.id)
        return NotTaken("It could not be asked whether it is still true.", try_again=True)
    if untrue:
        return outbox.NoLongerTrue(untrue)
    send = CHANNELS.get(notice.channel)
    if send is None:
        return NotTaken(f"There is no way to send by {notice.channel}.", try_again=False)
    letter = Letter(notice.message_id, notice.recipient, notice.subject, notice.body, notice.created_at)
    return send(letter, seconds=deadline - time.monotonic())
