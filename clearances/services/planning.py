"""Choosing the points, writing the order with both halves, and a second person's check of it."""

import functools
from collections.abc import Sequence

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.standing import also_open
from circuits.core.values import normally_open
from circuits.models import Device, Premises

from .. import effects, facts, notices, promises
from ..models import AffectedPremises, Clearance, IsolationPoint, Role, Step, SwitchingOrder
from ..rules import facts as values
from ..rules.clauses import IN_ORDER, ONE_IN_CHARGE, PICTURE
from ..rules.orders import may_check, order_faults
from ..rules.refusal import Refusal
from ..rules.words import in_order, letters
from . import way_back
from .verb import Outcome, Refused, Stale, Who, lock_clearance, lock_with_told, touch, verb, write


def planned_block(clearance: Clearance) -> dict[str, str]:
    """The points as they will stand when all of them are open and tagged."""
    return dict(clearance.points.values_list("device_id", "phases"))


def kept_out(clearance: Clearance) -> list[str]:
    """Premises that this clearance's points keep from their supply: as the network stands now, and as it
    stands normally.

    The second counts those in who are out today for another reason, and would be on again without this one.
    """
    points = planned_block(clearance)
    normal = normally_open(snapshot.compiled().network)
    return sorted(effects.newly_without(points) | effects.newly_without(points, normal))


def _not_plannable(clearance: Clearance) -> tuple[Refusal, ...]:
    order = getattr(clearance, "order", None)
    if clearance.state == Clearance.State.ASKED and (
        order is None or order.state == SwitchingOrder.State.DRAFT
    ):
        return ()
    state = order.state if order else clearance.state
    return (
        Refusal(
            "not_plannable",
            str(clearance),
            f"Order {clearance.pk} is {state}; its points and steps stand.",
            IN_ORDER,
            "Take the check back first, as long as no step has been given.",
        ),
    )


@verb(Role.OPERATOR)
def choose_points(who: Who, *, clearance: int, version: int, devices: Sequence[str]) -> Outcome:
    """Name the devices that are to part the limits from every source, in the order in which they are to be
    opened.
    """
    row = lock_clearance(clearance)
    if refusals := _not_plannable(row):
        return Refused(refusals)
    if tag := row.tags.first():
        text = f"Tag {tag.number} was hung at {tag.device_id} for this clearance, so its points stand."
        way = "Call the job off, have the tag taken off and the device put back, and ask again."
        return Refused((Refusal("tag_hung", tag.device_id, text, IN_ORDER, way),))
    known = Device.objects.in_bulk(list(devices))
    if missing := [device for device in devices if device not in known]:
        text = f"There is no device {', '.join(missing)} on the network."
        return Refused(
            (Refusal("unknown_device", missing[0], text, PICTURE, "Choose devices from the list."),)
        )
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    SwitchingOrder.objects.filter(clearance=row).delete()
    row.points.all().delete()
    IsolationPoint.objects.bulk_create(
        IsolationPoint(clearance=row, device=known[device], phases=known[device].phases, place=place)
        for place, device in enumerate(dict.fromkeys(devices), start=1)
    )
    words = f"Clearance {row.pk}: points {', '.join(devices) or 'none'}."
    return write(who, "choose_points", words, clearance=row, devices=list(devices))


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def agree_on_source(who: Who, *, clearance: int, source: str, decision: str) -> Outcome:
    """Record what was decided about a customer's source that no device parts from the limits; the holder
    agrees to it.
    """
    row = lock_clearance(clearance)
    if who.actor.pk != row.holder_id:
        text = f"Only {row.holder}, who will hold clearance {row.pk}, can agree to that."
        return Refused(
            (
                Refusal(
                    "not_the_holder",
                    source,
                    text,
                    ONE_IN_CHARGE,
                    f"Ask {row.holder} and enter it in that name.",
                ),
            )
        )
    compiled = snapshot.compiled()
    reaching = {path.source_id for path in facts.live_paths(compiled, row, planned_block(row))}
    kinds = {one.id: one.kind for one in compiled.network.sources}
    if source not in reaching or kinds.get(source) == "station":
        text = f"{source} is not a customer's source that still reaches these limits."
        return Refused((Refusal("no_such_source", source, text, PICTURE, "Choose one from the list."),))
    row.dispositions.create(source_id=source, decision=decision, agreed_by=who.actor)
    touch(row, expected=None)
    return write(
        who,
        "agree_on_source",
        f"Clearance {row.pk}: {source}: {decision}; {who.actor} agrees.",
        clearance=row,
    )


@verb(Role.OPERATOR)
def write_order(who: Who, *, clearance: int, version: int) -> Outcome:
    """Write both halves from the points, on the positions as they stand: open or check open and tag; then
    back in reverse.
    """
    row = lock_clearance(clearance)
    if refusals := _not_plannable(row):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    SwitchingOrder.objects.filter(clearance=row).delete()
    order = SwitchingOrder.objects.create(
        clearance=row,
        written_by=who.actor,
        written_at=timezone.now(),
        network_revision=snapshot.compiled().network.revision,
    )
    open_now = positions.open_phases()
    points = _opened_in_turn(list(row.points.select_related("device")))
    steps: list[Step] = []

    def add(half: str, operation: str, point: IsolationPoint, phases: str) -> None:
        if phases:
            steps.append(
                Step(
                    order=order,
                    half=half,
                    place=len(steps) + 1,
                    operation=operation,
                    device_id=point.device_id,
                    phases=phases,
                    point=point,
                )
            )

    for point in points:
        stands_open = set(open_now.get(point.device_id, "")) & set(point.phases)
        add(Step.Half.ISOLATE, Step.Operation.CHECK_OPEN, point, in_order(stands_open))
        add(Step.Half.ISOLATE, Step.Operation.OPEN, point, in_order(set(point.phases) - stands_open))
    keep = way_back.stay_open(row)
    for point in way_back.in_turn(points):
        add(Step.Half.RESTORE, Step.Operation.REMOVE_TAG, point, point.phases)
        add(
            Step.Half.RESTORE,
            Step.Operation.CLOSE,
            point,
            in_order(set(point.phases) - set(keep.get(point.device_id, ""))),
        )
    Step.objects.bulk_create(steps)
    isolate = sum(step.half == Step.Half.ISOLATE for step in steps)
    words = (
        f"{who.actor} writes order {row.pk}: {isolate} steps to isolate, {len(steps) - isolate} to restore."
    )
    return write(who, "write_order", words, clearance=row)


def _opened_in_turn(points: Sequence[IsolationPoint]) -> list[IsolationPoint]:
    """The points in the order in which they are opened: the utility's own, what is on record as fit to break
    load before what is not, so that it breaks it; then the disconnects of customers' machines; else as they
    were chosen (common practice).
    """
    own = way_back.customers_own()

    def turn(point: IsolationPoint) -> tuple[bool, bool, int]:
        return point.device_id in own, point.device.load_break_a is None, point.place

    return sorted(points, key=turn)


def faults_of(clearance: Clearance) -> tuple[Refusal, ...]:
    """Why the order as written may not be checked, on the network and the positions of now."""
    asked = clearance.state == Clearance.State.ASKED
    return order_faults(
        facts.facts_of(clearance, trace_paths=False),
        open_now=positions.open_phases(),
        stay_open=way_back.stay_open(clearance),
        planned_paths=facts.paths(clearance, planned_block(clearance)) if asked else (),
    )


@verb(Role.CHECKER, Role.OPERATOR)
def check_order(who: Who, *, clearance: int, version: int) -> Outcome:
    """A second person checks the order; the customers that it takes out are counted and kept with it, and
    whoever was told an hour at which it keeps them out as well is told again. A way back that was written
    again is checked by itself.
    """
    row = lock_with_told(clearance)
    order = SwitchingOrder.objects.filter(clearance=row).select_related("written_by", "rewritten_by").first()
    if order is None:
        text = f"No order is written for clearance {row.pk}."
        return Refused((Refusal("no_order", str(row), text, IN_ORDER, "Write the order first."),))
    refusals = may_check(
        writer=str(order.rewritten_by or order.written_by),
        checker=str(who.actor),
        same_person=not {order.written_by_id, order.rewritten_by_id}.isdisjoint({who.actor.pk, who.by.pk}),
        state=order.state,
    )
    if refusals := refusals or faults_of(row):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    words = f"{who.actor} checks the way back of order {row.pk}."
    out: list[str] = []
    if row.state == Clearance.State.ASKED:
        out = _count(row)
        words = f"{who.actor} checks order {row.pk}: {len(out)} customers will be out."
    SwitchingOrder.objects.filter(pk=order.pk).update(
        state="checked", checked_by=who.actor, checked_at=timezone.now()
    )
    if row.state == Clearance.State.ASKED:
        words += promises.renew()
    return write(who, "check_order", words, clearance=row, customers=out)


def _count(clearance: Clearance) -> list[str]:
    """Keep with the order whom it takes out; who was counted before and is not any more is told so."""
    out = kept_out(clearance)
    spared = clearance.affected.exclude(premises__in=out)
    notices.tell_spared(clearance, list(spared.exclude(told=0).values_list("premises_id", flat=True)))
    spared.delete()
    cares = dict(Premises.objects.filter(pk__in=out).values_list("pk", "care"))
    AffectedPremises.objects.bulk_create(
        (AffectedPremises(clearance=clearance, premises_id=one, care=cares[one]) for one in out),
        ignore_conflicts=True,
    )
    return out


@verb(Role.CHECKER, Role.OPERATOR)
def take_check_back(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Make a checked order a draft again, as long as no step of it has been given."""
    row = lock_clearance(clearance)
    begun = (
        Step.objects.filter(order__clearance=row).exclude(state="waiting").order_by("half", "place").first()
    )
    if begun:
        text = (
            f"Step {begun.place} of order {row.pk} ({begun.device_id} {letters(begun.phases)}) is "
            f"already {begun.state}."
        )
        way = "Call the job off and restore, or go on."
        return Refused((Refusal("order_begun", str(row), text, IN_ORDER, way),))
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    checked = SwitchingOrder.objects.filter(clearance=row, state="checked")
    if not checked.update(state="draft", checked_by=None, checked_at=None):
        text = f"Order {row.pk} is not checked, so there is no check to take back."
        way = "Look at the order as it stands; a paused one goes on first."
        return Refused((Refusal("order_not_checked", str(row), text, IN_ORDER, way),))
    return write(
        who, "take_check_back", f"{who.actor} takes the check of order {row.pk} back: {why}.", clearance=row
    )


def ways_in(clearance: Clearance) -> list[tuple[values.Path, list[tuple[str, int]]]]:
    """What still feeds the limits past the chosen points: each way that `facts.told` tells, with the devices
    on it and the customers each would take out.
    """
    compiled = snapshot.compiled()
    points = planned_block(clearance)
    chosen = also_open(positions.open_phases(), points)
    out_by_now = effects.without_supply(chosen)
    phases = {device.id: device.phases for device in compiled.network.devices}

    @functools.cache
    def customers(device: str) -> int:
        return len(effects.without_supply(also_open(chosen, {device: phases[device]})) - out_by_now)

    paths = facts.live_paths(compiled, clearance, points)
    return [
        (way, [(device, customers(device)) for device in path.devices])
        for way, path in zip(facts.told(compiled, paths), facts.nearest(paths), strict=True)
    ]
