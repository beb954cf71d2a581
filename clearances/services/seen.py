"""Facts out of the ordinary in one line each: the wrong device, a phase that is stuck, a close that did not
hold, a patrol, an opening in an emergency, a ground set that never went on.

All but the last are observations: stored, marked, and in front of the desk until somebody has answered.
"""

import datetime

from django.utils import timezone

from circuits import positions
from circuits.models import Device

from .. import blows, effects
from ..models import Blow, NeverOn, Patrol, Role, Step
from ..rules.correcting import may_take_back
from ..rules.words import in_order, letters
from .reporting import REPORTERS, orders_leaning_on, pause_orders, position_irregular, unknown_device
from .switching import find_step, where
from .verb import Outcome, Refused, Who, lock_clearance, touch, verb, write


def _hhmm(at: datetime.datetime) -> str:
    return f"{timezone.localtime(at):%H:%M}"


def _found(device: str, phases: str) -> Device | None:
    """The device, if it has all of these phases."""
    row = Device.objects.filter(pk=device).first()
    return row if row and phases and set(phases) <= set(row.phases) else None


def _lock(*numbers: int) -> list[int]:
    """Clearances before any device, in one order."""
    for number in sorted(set(numbers)):
        lock_clearance(number)
    return sorted(set(numbers))


@verb(*REPORTERS, field_word=True)
def report_wrong_device(
    who: Who,
    *,
    step: int,
    device: str,
    phases: str,
    done_at: datetime.datetime,
    position: str = "open",
    made_inoperable: str = "",
) -> Outcome:
    """Another device was operated instead of the ordered one. The step stays out, its order pauses, and what
    the other device took out is a trouble.
    """
    row = _found(device, phases)
    if row is None:
        return Refused((unknown_device(device, phases),))
    number = Step.objects.values_list("order", flat=True).get(pk=step)
    orders = _lock(number, *orders_leaning_on(row))
    clearance, ordered = find_step(step)
    phases = in_order(phases)
    beside = position_irregular(row, phases, position, operable=False)
    irregular = (
        f"Step {ordered.place} is for {ordered.device_id} {letters(ordered.phases)}; {device} "
        f"{letters(phases)} was {'opened' if position == 'open' else 'closed'} instead. {beside}"
    ).strip()
    effect = effects.record(
        device_id=device,
        phases=phases,
        position=position,
        made_inoperable=made_inoperable if position == "open" else "",
        said_by=who.said_by,
        how=who.how,
        done_at=done_at,
        reported_at=timezone.now(),
        irregular=irregular,
    )
    pause_orders(orders, irregular)
    touch(clearance, expected=None)
    words = (
        f"{who.said_by}: {device} {letters(phases)} at {where(row)} {position} in place of "
        f"{ordered.device_id}, {_hhmm(done_at)}."
    )
    words += f" {effect.words}." if effect.words else ""
    return write(
        who,
        "report_wrong_device",
        words,
        clearance=clearance,
        done_at=done_at,
        irregular=irregular,
        step=step,
        device=device,
        phases=phases,
        position=position,
        trouble=effect.trouble,
    )


@verb(*REPORTERS, field_word=True)
def report_stuck(who: Who, *, step: int, phases: str, done_at: datetime.datetime) -> Outcome:
    """A phase of the step's device would not move. The step is not whole, and its order pauses."""
    clearance, row = find_step(step)
    if not phases or not set(phases) <= set(row.device.phases):
        return Refused((unknown_device(row.device_id, phases),))
    phases = in_order(phases)
    closing = row.operation == Step.Operation.CLOSE
    irregular = f"{row.device_id} {letters(phases)} would not {'close' if closing else 'open'}."
    effect = effects.record(
        device_id=row.device_id,
        phases=phases,
        position="open" if closing else "closed",
        said_by=who.said_by,
        how=who.how,
        done_at=done_at,
        reported_at=timezone.now(),
        irregular=irregular,
        clearance=clearance,
    )
    opened = set(positions.open_phases().get(row.device_id, "")) & set(row.phases)
    irregular += f" It stands {len(opened)} of {len(row.phases)} open."
    left = in_order(set(row.reported_phases) - set(phases))
    Step.objects.filter(pk=row.pk).exclude(state=Step.State.REPORTED).update(reported_phases=left)
    pause_orders([clearance.pk], irregular)
    touch(clearance, expected=None)
    words = (
        f"{who.said_by}: {row.device_id} {letters(phases)} at {where(row.device)} is stuck, {_hhmm(done_at)}."
    )
    return write(
        who,
        "report_stuck",
        words,
        clearance=clearance,
        done_at=done_at,
        irregular=irregular,
        step=step,
        device=row.device_id,
        phases=phases,
        off=effect.off,
        back=effect.back,
    )


@verb(*REPORTERS, field_word=True)
def report_blown(
    who: Who, *, device: str, phases: str, closed_at: datetime.datetime, dropped_at: datetime.datetime
) -> Outcome:
    """It was closed and did not hold. Both minutes are kept, it stands open, its customers stay out, and the
    order that closed it pauses with the questions of the trade; the step can be given again.
    """
    row = _found(device, phases)
    if row is None:
        return Refused((unknown_device(device, phases),))
    closing = Step.objects.filter(
        device=device, operation=Step.Operation.CLOSE, state=Step.State.GIVEN
    ).first()
    orders = _lock(*orders_leaning_on(row), *([closing.order_id] if closing else []))
    clearance = lock_clearance(closing.order_id) if closing else None
    now, phases = timezone.now(), in_order(phases)
    said, closed_at = (closed_at, dropped_at), min(closed_at, now)
    dropped_at = max(min(dropped_at, now), closed_at)
    irregular = (
        f"{device} {letters(phases)} closed {_hhmm(closed_at)}, dropped {_hhmm(dropped_at)}: it did not "
        "hold. Cold load or fault? Was the line patrolled?"
    )
    if said[1] < said[0]:
        irregular += f" It was said to have dropped at {_hhmm(said[1])}, before it was closed."
    effect = effects.record_dropped(
        device_id=device,
        phases=phases,
        said_by=who.said_by,
        how=who.how,
        closed_at=closed_at,
        dropped_at=dropped_at,
        reported_at=now,
        ordered_at=closing.given_at if closing else None,
        irregular=irregular,
        clearance=clearance,
    )
    Blow.objects.create(
        device=row, phases=phases, closed_at=closed_at, dropped_at=dropped_at, said_by=who.said_by
    )
    count, _ = blows.standing(device)
    if count > 1:
        irregular += (
            f" It has dropped {count} times since it last held: a patrol comes before the next close."
        )
    if closing and clearance:
        Step.objects.filter(pk=closing.pk).update(
            state=Step.State.WAITING, given_at=None, given_by=None, given_to="", reported_phases=""
        )
        touch(clearance, expected=None)
    pause_orders(orders, irregular)
    words = (
        f"{who.said_by}: {device} {letters(phases)} at {where(row)} closed {_hhmm(closed_at)}, "
        f"dropped {_hhmm(dropped_at)}."
    )
    return write(
        who,
        "report_blown",
        words,
        clearance=clearance,
        ordered_at=closing.given_at if closing else None,
        done_at=dropped_at,
        irregular=irregular,
        device=device,
        phases=phases,
        position="open",
        off=effect.off,
        back=effect.back,
    )


@verb(*REPORTERS, field_word=True)
def report_patrol(who: Who, *, device: str, found: str, done_at: datetime.datetime) -> Outcome:
    """Somebody has gone along all that the device feeds."""
    row = Device.objects.filter(pk=device).first()
    if row is None:
        return Refused((unknown_device(device, ""),))
    Patrol.objects.create(
        device=row, found=found.strip(), done_at=min(done_at, timezone.now()), said_by=who.said_by
    )
    words = (
        f"{who.said_by}: patrolled what {device} at {where(row)} feeds, {_hhmm(done_at)}: {found.strip()}."
    )
    return write(who, "report_patrol", words, done_at=done_at, device=device)


@verb(*REPORTERS, field_word=True)
def open_now(who: Who, *, device: str, phases: str) -> Outcome:
    """Opened at once, because it had to be: device and phases, and the time is now. What it broke is told
    with the report.
    """
    row = _found(device, phases)
    if row is None:
        return Refused((unknown_device(device, phases),))
    orders = _lock(*orders_leaning_on(row))
    now, phases = timezone.now(), in_order(phases)
    irregular = f"{device} {letters(phases)} opened in an emergency, with no order behind it."
    effect = effects.record(
        device_id=device,
        phases=phases,
        position="open",
        said_by=who.said_by,
        how=who.how,
        done_at=now,
        reported_at=now,
        irregular=irregular,
    )
    pause_orders(orders, irregular)
    words = f"{who.said_by}: {device} {letters(phases)} at {where(row)} opened now."
    words += f" {effect.words}." if effect.words else ""
    return write(
        who,
        "open_now",
        words,
        done_at=now,
        irregular=irregular,
        device=device,
        phases=phases,
        position="open",
        trouble=effect.trouble,
    )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def ground_never_on(who: Who, *, clearance: int, label: str, second: str) -> Outcome:
    """A ground set that was reported on and never was: said by the holder and a second crew member. The
    report that it was on stays as it was made.
    """
    row = lock_clearance(clearance)
    on = row.ground_sets.filter(label=label, off_at=None)
    refusals = may_take_back(
        label,
        stands_on=set(on.values_list("label", flat=True)),
        holder=str(row.holder),
        is_holder=who.actor.pk == row.holder_id,
        second=second,
        crew=set(row.sign_ons.values_list("name", flat=True)),
    )
    if refusals:
        return Refused(refusals)
    ground = on.order_by("-pk")[0]
    now, both = timezone.now(), f"{row.holder} and {second}"
    NeverOn.objects.create(ground=ground, said_by=str(row.holder), second=second, said_at=now)
    irregular = f"Ground set {ground} never went on, say {both}."
    row.ground_sets.filter(pk=ground.pk).update(
        off_at=now, off_by=f"never on: {both}", irregular=f"{ground.irregular} {irregular}".strip()
    )
    touch(row, expected=None)
    words = (
        f"{who.said_by}, with {second}: ground set {ground} never went on; it was reported on by "
        f"{ground.on_by}."
    )
    return write(
        who,
        "ground_never_on",
        words,
        clearance=row,
        done_at=now,
        irregular=irregular,
        label=label,
        pole=ground.pole,
    )
