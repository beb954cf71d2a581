"""Who is asked before something is closed: the holders whom it would hit if one report were wrong."""

import datetime
from functools import cache, partial

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.standing import without
from circuits.core.trace import Trace, trace
from circuits.core.whatif import what_if

from . import at_device, facts
from .models import Clearance, RollCall, Step
from .rules import facts as values
from .rules.rollcall import ANSWER_STANDS


def one_report_away(device_id: str, phases: str, *, but: int | None = None) -> tuple[values.Hit, ...]:
    """Each clearance that is out, other than `but`, on whose limits closing these phases would put voltage if
    one of its points stood closed in truth: nothing else would then stand between.

    Whom the close energizes with every report right is refused elsewhere. Any other single device can't do
    it: with all its points open no source reaches a clearance, whatever else is closed. Cost: two traces for
    each point.
    """
    compiled = snapshot.compiled()
    now_there = partial(at_device.there, compiled)  # a point's phases are gone where its tap has moved
    open_now = without(positions.open_phases(), at_device.ordered_closed())

    @cache
    def states(point: str, letters: str) -> tuple[Trace, Trace]:
        weaker = without(open_now, {point: letters})
        return trace(compiled, weaker), trace(compiled, without(weaker, {device_id: phases}))

    def weak(clearance: Clearance) -> list[str]:
        inside = facts.limits_of(clearance, compiled)
        return [
            point.device_id
            for point in clearance.points.all()
            if at_device.more_voltage(
                *states(point.device_id, now_there(point.device_id, point.phases)), inside
            )
        ]

    rows = Clearance.objects.filter(state__in=facts.OUT).exclude(pk=but or 0).order_by("pk")
    hits = []
    for row in rows.select_related("holder").prefetch_related("limits", "points"):
        if points := weak(row):
            only = " or ".join(points)
            hits.append(
                values.Hit(
                    f"nothing but {only} would stand between", row.pk, str(row.holder), row.holder.phone
                )
            )
    return tuple(hits)


def silent(step: Step) -> tuple[values.Hit, ...]:
    """Of those that have to be asked about a close the ones who have not said yes to it just now."""
    since = timezone.now() - ANSWER_STANDS
    last: dict[int, RollCall] = {call.clearance_id: call for call in RollCall.objects.filter(step=step)}
    return tuple(
        hit
        for hit in one_report_away(step.device_id, step.phases, but=step.order_id)
        if not ((call := last.get(hit.clearance)) and call.agrees and _after(call, since))
    )


def _after(call: RollCall, since: datetime.datetime) -> bool:
    return call.answered_at is not None and call.answered_at >= since


def machines(step: Step) -> tuple[str, ...]:
    """Customers' machines that may run on what a close would energize, by their numbers, for information."""
    compiled = snapshot.compiled()
    phases = at_device.there(compiled, step.device_id, step.phases)
    found = what_if(compiled, positions.open_phases(), step.device_id, phases, "close")
    return found.machines


def unanswered(step: Step) -> list[RollCall]:
    """Of the last roll-call of a step the questions that are still open."""
    calls = RollCall.objects.filter(step=step).select_related("clearance__holder")
    return [call for call in {call.clearance_id: call for call in calls}.values() if call.agrees is None]


def asked_of(clearance: Clearance) -> list[RollCall]:
    """What the holder of a clearance has been asked and has not answered, about steps that still wait."""
    calls = RollCall.objects.filter(clearance=clearance, step__state=Step.State.WAITING)
    return [call for call in {call.step_id: call for call in calls}.values() if call.agrees is None]
