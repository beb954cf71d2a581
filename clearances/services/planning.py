"""Choosing the points, and what picks load up; what still feeds the limits past them."""

import functools
from collections.abc import Sequence

from circuits import positions, snapshot
from circuits.core.standing import also_open
from circuits.models import Device

from .. import effects, facts
from ..models import Clearance, IsolationPoint, PickUp, Role, SwitchingOrder
from ..rules import facts as values
from ..rules.clauses import ALL_OPENED, IN_ORDER, ONE_IN_CHARGE, PICTURE
from ..rules.refusal import Refusal
from .verb import Outcome, Refused, Stale, Who, lock_clearance, touch, verb, write


def planned_block(clearance: Clearance) -> dict[str, str]:
    """The points as they will stand when all of them are open and tagged."""
    return dict(clearance.points.values_list("device_id", "phases"))


def not_plannable(clearance: Clearance) -> tuple[Refusal, ...]:
    """Why the points and the order of a clearance stand."""
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
def choose_points(
    who: Who,
    *,
    clearance: int,
    version: int,
    devices: Sequence[str],
    closes: Sequence[str] = (),
    opens: Sequence[str] = (),
) -> Outcome:
    """Name the devices that are to part the limits from every source, in the order in which they are to be
    opened; and those that are closed, or opened, besides, so that fewer customers are out.
    """
    row = lock_clearance(clearance)
    devices, closes, opens = (list(dict.fromkeys(named)) for named in (devices, closes, opens))
    if refusals := not_plannable(row):
        return Refused(refusals)
    if tag := row.tags.first():
        text = f"Tag {tag.number} was hung at {tag.device_id} for this clearance, so its points stand."
        way = "Call the job off, have the tag taken off and the device put back, and ask again."
        return Refused((Refusal("tag_hung", tag.device_id, text, IN_ORDER, way),))
    named = [*devices, *closes, *opens]
    known = Device.objects.in_bulk(named)
    if missing := [device for device in named if device not in known]:
        text = f"There is no device {', '.join(missing)} on the network."
        return Refused(
            (Refusal("unknown_device", missing[0], text, PICTURE, "Choose devices from the list."),)
        )
    chosen = {True: set(closes), False: set(opens)}
    if twice := sorted({*devices} & {*closes, *opens} | chosen[True] & chosen[False]):
        text = f"{', '.join(twice)} can't both stand open as a point and be moved to pick load up."
        way = "A point stays open with its tag: take it from one of the two lists."
        return Refused((Refusal("point_and_pick_up", twice[0], text, ALL_OPENED, way),))
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    SwitchingOrder.objects.filter(clearance=row).delete()
    row.points.all().delete()
    row.pick_ups.all().delete()
    IsolationPoint.objects.bulk_create(
        IsolationPoint(clearance=row, device=known[device], phases=known[device].phases, place=place)
        for place, device in enumerate(devices, start=1)
    )
    PickUp.objects.bulk_create(
        PickUp(clearance=row, device_id=device, closes=how)
        for how, moved in chosen.items()
        for device in sorted(moved)
    )
    besides = [
        f"{how} {', '.join(sorted(set(one)))}" for how, one in (("close", closes), ("open", opens)) if one
    ]
    words = "; besides, ".join([f"Clearance {row.pk}: points {', '.join(devices) or 'none'}", *besides])
    return write(
        who,
        "choose_points",
        f"{words}.",
        clearance=row,
        devices=devices,
        closes=closes,
        opens=opens,
    )


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
