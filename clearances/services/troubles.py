"""What the desk says of a trouble: its cause, who goes there, what its customers are promised."""

import datetime

from django.db.models import F
from django.utils import timezone

from .. import notices
from ..models import Role, Trouble
from ..rules.troubles import is_over, may_promise
from .verb import Outcome, Refused, Stale, Who, verb, write


def _lock(number: int) -> Trouble:
    return Trouble.objects.select_for_update(no_key=True).get(pk=number)


def _change(trouble: Trouble, *, expected: int, **changes: object) -> Stale | None:
    rows = Trouble.objects.filter(pk=trouble.pk, version=expected)
    if not rows.update(version=F("version") + 1, **changes):
        return Stale(f"Trouble {trouble.pk} has changed since this page was read.")
    trouble.refresh_from_db()
    return None


def _clock(at: datetime.datetime | None) -> str:
    return f"{timezone.localtime(at):%H:%M}" if at else ""


@verb(Role.OPERATOR)
def say_cause(who: Who, *, trouble: int, version: int, cause: str) -> Outcome:
    """What took the customers out, once somebody knows; also after they are back."""
    row = _lock(trouble)
    if problem := _change(row, expected=version, cause=cause.strip()):
        return problem
    words = f"Cause of trouble {row.pk} at {row.device_id}: {row.cause or 'not known'}."
    return write(who, "say_cause", words, trouble=row.pk)


@verb(Role.OPERATOR)
def send_crew(who: Who, *, trouble: int, version: int, crew: str) -> Outcome:
    """Who goes there. Customer service and customers are never told names."""
    row = _lock(trouble)
    if refusals := is_over(row.pk, ended=_clock(row.ended_at)):
        return Refused(refusals)
    if problem := _change(row, expected=version, crew=crew.strip()):
        return problem
    words = f"To trouble {row.pk} at {row.device_id} goes {row.crew or 'nobody'}."
    return write(who, "send_crew", words, trouble=row.pk)


@verb(Role.OPERATOR)
def promise_power_back(
    who: Who,
    *,
    trouble: int,
    version: int,
    back_by: datetime.datetime | None = None,
    next_word_at: datetime.datetime | None = None,
    say: str = "",
) -> Outcome:
    """When customers of a trouble have power back, or when they hear more; `say` is what customer service may
    read out. Whoever is out for it gets a notice.
    """
    row, now = _lock(trouble), timezone.now()
    refusals = may_promise(
        row.pk, ended=_clock(row.ended_at), back_by=back_by, next_word_at=next_word_at, now=now
    )
    if refusals:
        return Refused(refusals)
    said = {"back_by": back_by, "next_word_at": next_word_at, "say": say.strip(), "said_at": now}
    if problem := _change(row, expected=version, telling=F("telling") + 1, **said):
        return problem
    told = notices.tell_promise(row)
    back = f"power back by {_clock(back_by)}" if back_by else "no time is known"
    word = f", next word by {_clock(next_word_at)}" if next_word_at else ""
    words = f"Trouble {row.pk} at {row.device_id}: {back}{word}. {told} customers are told."
    return write(who, "promise_power_back", words, trouble=row.pk)
