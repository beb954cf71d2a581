"""What is reported of steps and of devices, by phase.

Orders are refused, observations never: a report that does not fit is stored, marked irregular, and shown
until a person has answered it.
"""

import datetime
from collections.abc import Iterable

from django.utils import timezone

from circuits import positions
from circuits.core.standing import still_there
from circuits.models import Device, PositionReport

from .. import at_device, effects, facts, protections
from ..models import Clearance, LogEntry, Role, Step, SwitchingOrder
from ..rules.clauses import PICTURE
from ..rules.refusal import Refusal
from ..rules.steps import as_it_stands
from ..rules.words import in_order, letters
from . import tags
from .phone import since
from .switching import find_step, finish_if_done, where
from .verb import Outcome, Refused, Who, lock_clearance, touch, verb, write

REPORTERS = (Role.FOREMAN, Role.CREW, Role.OPERATOR)
AHEAD = datetime.timedelta(seconds=60)


@verb(*REPORTERS, field_word=True)
def report_step(
    who: Who,
    *,
    step: int,
    phases: str,
    done_at: datetime.datetime,
    made_inoperable: str = "",
    tag: bool = False,
) -> Outcome:
    """A given step (or some phases of it) was done. `tag`: the tag was hung (isolate) or taken off
    (remove_tag) as well.

    The step counts as reported when all its phases are, since it was given, and its tag too. A report on a
    step that is not given, or on a phase that is not its own, is still what somebody did: it is stored, and
    marked.
    """
    clearance, row = find_step(step)
    if not set(phases) <= set(row.device.phases + row.phases):
        return Refused((unknown_device(row.device_id, phases),))
    said = in_order(phases) or row.phases
    irregular = _irregular(row, said, done_at)
    # A tag comes off by the phases it was hung on, wherever the tap has moved since.
    phases = said if row.operation == Step.Operation.REMOVE_TAG else still_there(said, row.device.phases)
    if phases != said:
        gone = in_order(set(said) - set(phases))
        moved = f"{row.device_id} has {letters(row.device.phases)} now, no longer {letters(gone)}."
        irregular = f"{irregular} {moved}".strip()
    stood_open = positions.open_phases().get(row.device_id, "")
    operation = Step.Operation(as_it_stands(row.operation, phases, stood_open))
    effect = effects.Effect((), ())
    if operation in (Step.Operation.OPEN, Step.Operation.CHECK_OPEN, Step.Operation.CLOSE):
        closing = operation == Step.Operation.CLOSE
        live = at_device.tags_at(row.device_id) if closing else ()
        if live:
            irregular = f"{irregular} {row.device_id} closed with tag {live[0].number} on it.".strip()
        if irregular or row.state != Step.State.GIVEN:
            irregular = " ".join([irregular, *protections.said_of(row.device_id)]).strip()
        effect = effects.record(
            device_id=row.device_id,
            phases=phases,
            position="closed" if closing else "open",
            made_inoperable="" if closing else made_inoperable,
            said_by=who.said_by,
            how=who.how,
            ordered_at=row.given_at,
            done_at=done_at,
            reported_at=timezone.now(),
            irregular=irregular,
            clearance=clearance,
        )
    if tag and row.point is None:
        told = f"A tag was told of at {row.device_id}, which is no point of {clearance}."
        irregular = f"{irregular} {told}".strip()
    if tag and row.point and operation in (Step.Operation.OPEN, Step.Operation.CHECK_OPEN):
        marked = tags.hang(row.point, done_at=done_at, by=who.said_by, irregular=irregular)
        irregular = marked or irregular
    hanging = facts.live_tags().filter(number=row.tag_number).first()
    off = {"tag": tag, "position": "", "device": row.device_id}
    newer = since(who.phone, "report_step", clearance, off)  # a late word ends nothing entered since
    if operation == Step.Operation.REMOVE_TAG and tag and hanging and not newer:
        marked = tags.take_off(hanging, done_at=done_at, by=who.said_by)
        irregular = f"{irregular} {marked}".strip()
    reported = set(row.reported_phases + said) & set(row.phases)
    changes: dict[str, object] = {"reported_phases": in_order(reported)}
    if _is_whole(row):
        changes |= {"state": Step.State.REPORTED, "reported_at": timezone.now()}
    Step.objects.filter(pk=row.pk).update(**changes)
    touch(clearance, expected=None)
    finish_if_done(clearance)
    if _skipped(row):
        pause_orders([clearance.pk], irregular)
    words = (
        f"{who.said_by}: {_done_words(row, operation, phases, made_inoperable, tag)} at "
        f"{timezone.localtime(done_at):%H:%M}."
    )
    if effect.words:
        words += f" {effect.words}."
    return write(
        who,
        "report_step",
        words,
        clearance=clearance,
        ordered_at=row.given_at,
        done_at=done_at,
        irregular=irregular,
        step=row.pk,
        device=row.device_id,
        position={"close": "closed", "remove_tag": ""}.get(operation, "open"),
        phases=phases,
        made_inoperable=made_inoperable,
        tag=tag,
        off=effect.off,
        back=effect.back,
    )


def unknown_device(device: str, phases: str) -> Refusal:
    text = f"{device} {phases} is not a device and phase on the network."
    way = "Read the number and the phase again at the pole."
    return Refusal("unknown_device", device, text, PICTURE, way)


def _is_whole(step: Step) -> bool:
    """A given step of which every phase is reported, and its tag. What was reported before it was given says
    nothing of how it stands since.
    """
    if step.state != Step.State.GIVEN or (_needs_tag(step) and not _tag_as_meant(step)):
        return False
    since = PositionReport.objects.filter(device=step.device_id, ordered_at=step.given_at)
    untagging = step.operation == Step.Operation.REMOVE_TAG
    there = still_there(step.phases, step.device.phases)
    return untagging or set(there) <= set(since.values_list("phase", flat=True))


def _needs_tag(step: Step) -> bool:
    """The last isolate step at a point carries the tag for all of it; so does the removal."""
    if step.half == Step.Half.RESTORE or step.point is None:
        return step.operation == Step.Operation.REMOVE_TAG
    later = step.order.steps.filter(half=Step.Half.ISOLATE, point=step.point, place__gt=step.place)
    return not later.exists()


def _tag_as_meant(step: Step) -> bool:
    hangs = facts.live_tags().filter(number=step.tag_number).exists()
    return hangs if step.half == Step.Half.ISOLATE else not hangs


def _irregular(step: Step, phases: str, done_at: datetime.datetime) -> str:
    parts = []
    if beyond := in_order(set(phases) - set(step.phases)):
        parts.append(f"Step {step.place} is for {letters(step.phases)}, not {letters(beyond)}.")
    if earlier := _skipped(step):
        first = f"step {earlier.place} ({earlier.device_id} {letters(earlier.phases)})"
        parts.append(f"Done out of order: {first} comes first.")
    if step.state != Step.State.GIVEN:
        parts.append(f"Step {step.place} was reported while it was {Step.State(step.state).label}.")
    if done_at > timezone.now() + AHEAD:
        parts.append("The time lies ahead of the board's clock.")
    if step.given_at and done_at < step.given_at - AHEAD:
        parts.append("Done before it was given.")
    return " ".join(parts)


def _skipped(step: Step) -> Step | None:
    """The first step of the same half that should have been done before one that was not given."""
    if step.state != Step.State.WAITING:
        return None
    left = [Step.State.WAITING, Step.State.GIVEN]
    return step.order.steps.filter(half=step.half, place__lt=step.place, state__in=left).first()


def _done_words(step: Step, operation: str, phases: str, made_inoperable: str, tag: bool) -> str:
    device = f"{step.device_id} {letters(phases)}"
    if operation == Step.Operation.REMOVE_TAG:
        return f"tag {step.tag_number} off {step.device_id}" if tag else f"tag {step.tag_number} not yet off"
    if operation == Step.Operation.CLOSE:
        return f"{device} closed, held"
    found = "opened" if operation == Step.Operation.OPEN else "found open"
    parts = [
        f"{device} {found}",
        made_inoperable,
        f"tag {step.tag_number} hung" if tag and step.point else "",
    ]
    return ", ".join(part for part in parts if part)


@verb(*REPORTERS, field_word=True)
def report_position(
    who: Who,
    *,
    device: str,
    phases: str,
    position: str,
    done_at: datetime.datetime,
    remark: str = "",
    made_inoperable: str = "",
    operable: bool = False,
    tag: str = "",
    tag_number: str = "",
) -> Outcome:
    """What somebody found or did at a device, with no order behind it. Always stored; whatever leans on the
    device is told.

    A phase that stood open already stays made inoperable as it was, unless `made_inoperable` says how it is
    now or `operable` that nothing keeps it from being closed. `tag`: a tag was "seen", is "gone" or was
    "hung" there; `tag_number` which, where it can be more than one.
    """
    row = Device.objects.filter(pk=device).first()
    if row is None or not phases or not set(phases) <= set(row.phases):
        return Refused((unknown_device(device, phases),))
    if tag not in ("", tags.SEEN, tags.GONE, tags.HUNG):
        text = f"A tag is seen, gone or hung, not «{tag}»."
        return Refused((Refusal("unknown_word", device, text, PICTURE, "Say what there is to be seen."),))
    phases = in_order(phases)
    concerned = {*orders_leaning_on(row), *(tags.clearances_at(device) if tag else ())}
    for number in sorted(concerned):  # clearance before device, as everywhere
        lock_clearance(number)
    irregular = position_irregular(row, phases, position, operable=operable)
    effect = effects.record(
        device_id=device,
        phases=phases,
        position=position,
        made_inoperable="" if operable or position == "closed" else made_inoperable,
        operable=operable,
        said_by=who.said_by,
        how=who.how,
        done_at=done_at,
        reported_at=timezone.now(),
        irregular=irregular,
    )
    found = tags.Observed("")
    if tag == tags.GONE and who.phone and who.phone.late:
        found = tags.Observed("a tag gone", f"Sent late that a tag is gone from {device}: look there again.")
    elif tag:
        found = tags.observe(device, tag, tag_number, done_at=done_at, by=who.said_by)
    irregular = f"{irregular} {found.irregular}".strip()
    if found.clearance:
        touch(found.clearance, expected=None)
    pause_orders(orders_leaning_on(row) if irregular else (), irregular)
    how = "nothing keeps it from being closed" if operable else made_inoperable
    said = ", ".join(part for part in (position, how, found.words) if part)
    words = f"{who.said_by}: {device} {letters(phases)} at {where(row)} is {said}. {remark}".strip()
    if effect.words:
        words += f" {effect.words}."
    return write(
        who,
        "report_position",
        words,
        clearance=found.clearance,
        done_at=done_at,
        irregular=irregular,
        device=device,
        phases=phases,
        position=position,
        made_inoperable=made_inoperable,
        tag=found.words,
        off=effect.off,
        back=effect.back,
    )


def position_irregular(device: Device, phases: str, position: str, *, operable: bool) -> str:
    """Why this report is out of the ordinary: it differs from what stood on the board, and whose protection
    leans on it.
    """
    stood_open = set(positions.open_phases().get(device.pk, ""))
    as_before = set(phases) <= stood_open if position == "open" else not set(phases) & stood_open
    live = at_device.tags_at(device.pk)
    parts = []
    if not as_before:
        parts.append(f"{device.pk} {letters(phases)} found {position}, with no order behind it.")
    if live and (position == "closed" or operable):
        can = "" if position == "closed" else "It can be closed. "
        names = ", ".join(f"{tag.number} ({tag.holder})" for tag in live)
        parts.append(f"{can}It carries tag {names}.")
    if not as_before or operable:
        parts += protections.said_of(device.pk)
    return " ".join(parts)


def orders_leaning_on(device: Device) -> list[int]:
    """Checked orders with a step still to be given or reported at this device."""
    waiting = Step.objects.filter(device=device, state__in=[Step.State.WAITING, Step.State.GIVEN])
    orders = SwitchingOrder.objects.filter(pk__in=waiting.values("order"), state="checked")
    return list(orders.order_by("pk").values_list("pk", flat=True))


def pause_orders(numbers: Iterable[int], why: str) -> None:
    """Every order under way among these stops until the operator has looked."""
    paused = SwitchingOrder.objects.filter(pk__in=list(numbers), state="checked")
    stopped = list(paused.values_list("pk", flat=True))
    paused.update(state="paused", paused_why=why)
    for clearance in Clearance.objects.filter(pk__in=stopped):
        touch(clearance, expected=None)


@verb(Role.OPERATOR, Role.CHECKER)
def answer_irregular(who: Who, *, entry: int, answer: str) -> Outcome:
    """Somebody has looked at an irregular report and says what was done about it; it leaves the desk's first
    screen.
    """
    LogEntry.objects.only("number").get(pk=entry)
    return write(who, "answer_irregular", f"On entry {entry}: {answer}", entry=entry)
