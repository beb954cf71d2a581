"""How often a device dropped since it last held, and whether somebody has gone along the line since."""

import datetime

from circuits.models import PositionReport

from .models import Blow, Patrol
from .rules.blown import may_close_again
from .rules.refusal import Refusal


def standing(device_id: str) -> tuple[int, bool]:
    """How many blows count, and whether a patrol was reported after the last of them. A blow counts until
    each of its phases was closed later and held: by a close that is no blow itself. The same stands in the
    trigger `c_patrol_first`.
    """
    blows = list(Blow.objects.filter(device=device_id).order_by("dropped_at"))
    if not blows:
        return 0, False
    dropped = {(one.closed_at, phase) for one in blows for phase in one.phases}
    closes = PositionReport.objects.filter(
        device=device_id, position="closed", done_at__gt=blows[0].dropped_at
    ).order_by("done_at")
    held: dict[str, datetime.datetime] = {
        one.phase: one.done_at for one in closes if (one.done_at, one.phase) not in dropped
    }
    counts = [
        one
        for one in blows
        if any(phase not in held or held[phase] <= one.dropped_at for phase in one.phases)
    ]
    if not counts:
        return 0, False
    patrols = Patrol.objects.filter(device=device_id, done_at__gte=counts[-1].dropped_at)
    return len(counts), patrols.exists()


def against_closing(device_id: str) -> tuple[Refusal, ...]:
    """Why it may not be closed now for having dropped."""
    count, patrolled = standing(device_id)
    return may_close_again(device_id, blows=count, patrolled=patrolled)
