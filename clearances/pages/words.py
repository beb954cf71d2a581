"""Sentences that several pages make from the same facts."""

import datetime
from collections.abc import Iterable

from django.utils import timezone
from django.utils.formats import date_format

from circuits.core.network import Compiled
from circuits.models import PositionReport

from ..models import Clearance, Step
from ..rules.words import in_order
from ..templatetags.board import clock

MINUTE = datetime.timedelta(minutes=1)

STANDING = {
    Clearance.State.ASKED: "not given",
    Clearance.State.GIVEN: "given",
    Clearance.State.ACCEPTED: "accepted",
    Clearance.State.FROZEN: "frozen",
    Clearance.State.RELEASED: "released",
    Clearance.State.WITHDRAWN: "released",
}
OPERATION = {
    Step.Operation.OPEN: "Open",
    Step.Operation.CHECK_OPEN: "Check open",
    Step.Operation.CLOSE: "Close",
}


def spaced(phases: str) -> str:
    """Phases as the templates keep them together.

    >>> spaced("ABC")
    'A B C'
    """
    return " ".join(phases)


def span(time: datetime.timedelta) -> str:
    """A length of time as it is said.

    >>> [span(datetime.timedelta(minutes=minutes)) for minutes in (12, 185, 4320)]
    ['12 min', '3 h 5 min', '3 days']
    """
    minutes = max(0, int(time / MINUTE))
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 2 * 24 * 60:
        hours, left = divmod(minutes, 60)
        return f"{hours} h {left} min" if left else f"{hours} h"
    return f"{minutes // (24 * 60)} days"


def day(at: datetime.datetime) -> str:
    """The day of a moment, as "Thu 26 Nov"."""
    return date_format(timezone.localtime(at), "D j M")


def window(start: datetime.datetime, end: datetime.datetime) -> str:
    """From when to when; the second date only where it differs from the first."""
    same = timezone.localtime(start).date() == timezone.localtime(end).date()
    return f"{clock(start)} to {date_format(timezone.localtime(end), 'H:i') if same else clock(end)}"


def position(phases: str, stands_open: str, inoperable: Iterable[str] = ()) -> str:
    """How a device stands, by phase.

    >>> position("ABC", "AB", ["barrels out"])
    'A B open, barrels out; C closed'
    """
    opened, closed = in_order(set(phases) & set(stands_open)), in_order(set(phases) - set(stands_open))
    how = ", ".join(dict.fromkeys(text for text in inoperable if text))
    parts = [
        f"{spaced(opened)} open" + (f", {how}" if how else "") if opened else "",
        f"{spaced(closed)} closed" if closed else "",
    ]
    return "; ".join(part for part in parts if part)


def limits(clearance: Clearance) -> tuple[str, str]:
    """The limits, and what is not inside them, as two sentences."""
    inside, _, outside = clearance.limits_words.partition(". Not ")
    return f"{inside.rstrip('.')}.", f"Not {outside}" if outside else "Nothing else."


def place(compiled: Compiled, structure_id: str) -> str:
    """The number on a pole and its street."""
    structure = compiled.network.structure.get(structure_id)
    if structure is None:
        return structure_id or "no pole on record"
    number = structure.label or structure.id
    return number if structure.street in number else f"{number} {structure.street}"


def where(compiled: Compiled, device_id: str) -> str:
    """Where a device is. One that an import has left out of the network says so."""
    device = compiled.network.device.get(device_id)
    return place(compiled, device.structure) if device else "no longer on the network"


def state(clearance: Clearance) -> str:
    """Where a clearance stands, in one sentence."""
    given = f"Given {clock(clearance.given_at)} by {clearance.given_by}" if clearance.given_at else ""
    accepted = f"accepted {clock(clearance.accepted_at)} by {clearance.holder}"
    released = f"Released {clock(clearance.released_at)} by {clearance.released_by}"
    return {
        Clearance.State.ASKED: "Asked for, not given.",
        Clearance.State.GIVEN: f"{given}, not accepted.",
        Clearance.State.ACCEPTED: f"{given}, {accepted}.",
        Clearance.State.FROZEN: f"Not valid to work. {given}, {accepted}.",
        Clearance.State.RELEASED: f"{released}. {given}.",
        Clearance.State.WITHDRAWN: "Called off.",
    }[Clearance.State(clearance.state)]


def short_state(clearance: Clearance) -> list[str]:
    """The same for the largest type on a phone, in one or two lines."""
    return {
        Clearance.State.ASKED: ["Not given"],
        Clearance.State.GIVEN: [f"Given {clock(clearance.given_at)},", "not accepted"],
        Clearance.State.ACCEPTED: [f"Accepted {clock(clearance.accepted_at)}"],
        Clearance.State.FROZEN: ["FROZEN"],
        Clearance.State.RELEASED: [f"Released {clock(clearance.released_at)}"],
        Clearance.State.WITHDRAWN: ["Called off"],
    }[Clearance.State(clearance.state)]


def late(clearance: Clearance, now: datetime.datetime) -> str:
    """How long the promised end is past, "" when it is not or no longer matters."""
    out = (Clearance.State.GIVEN, Clearance.State.ACCEPTED, Clearance.State.FROZEN)
    past = now - clearance.promised_end
    return f"{span(past)} past" if clearance.state in out and past >= MINUTE else ""


def operation(step: Step) -> str:
    """What is done in a step, before the device's number."""
    if step.operation == Step.Operation.REMOVE_TAG:
        return f"Remove tag {step.tag_number} from"
    return OPERATION[Step.Operation(step.operation)]


def reported(step: Step) -> str:
    """Which phases of a given step are reported and which are awaited; "" while none is."""
    if not step.reported_phases:
        return ""
    left = in_order(set(step.phases) - set(step.reported_phases))
    waits = f"{spaced(left)} waits" if left else "its tag waits"
    return f"{spaced(step.reported_phases)} reported, {waits}"


def latest(reports: Iterable[PositionReport | None]) -> PositionReport | None:
    """The last done of some reports."""
    known = [report for report in reports if report]
    return max(known, key=lambda report: (report.done_at, report.pk)) if known else None
