"""What utility and contractor tell each other before a contractor's foreman is given a clearance."""

import datetime

from django.utils import timezone

from ..models import InformationExchange, Role
from ..rules.holders import may_record_exchange
from .reporting import AHEAD
from .verb import Outcome, Refused, Who, lock_clearance, verb, write


@verb(Role.OPERATOR, Role.CHECKER)
def record_exchange(
    who: Who, *, clearance: int, with_whom: str, told: str, heard: str, done_at: datetime.datetime
) -> Outcome:
    """Record that utility and contractor told each other what they know of the site, the lines and the
    hazards of the work; without it a contractor's foreman is given nothing.
    """
    row = lock_clearance(clearance)
    with_whom, told, heard = with_whom.strip(), told.strip(), heard.strip()
    refusals = may_record_exchange(
        str(row.holder),
        is_holder=who.actor.pk == row.holder_id,
        in_full=bool(with_whom and told and heard),
        ahead=done_at > timezone.now() + AHEAD,
    )
    if refusals:
        return Refused(refusals)
    InformationExchange.objects.create(
        clearance=row, with_whom=with_whom, told=told, heard=heard, done_at=done_at, recorded_by=who.actor
    )
    words = (
        f"{who.actor} records for clearance {row.pk} what was told, {timezone.localtime(done_at):%H:%M}. "
        f"By the utility: {told}. By {with_whom}: {heard}."
    )
    return write(who, "record_exchange", words, clearance=row, done_at=done_at)
