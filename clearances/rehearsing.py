"""The orders of a job as `circuits.core.rehearsing` plays them: what is still to be done, from how the
devices are reported to stand.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from circuits import positions, snapshot
from circuits.asleft import CannotBeError
from circuits.core.network import Compiled
from circuits.core.rehearsing.rehearsal import Crew, Hold, Move, Order, Part, Untouched
from circuits.core.values import normally_open

from . import at_device, facts, protections
from .asleft import named
from .models import ChangeSet, Clearance, GroundSet, Step, SwitchingOrder

Half = Step.Half


@dataclass(frozen=True)
class Rehearsed:
    """`steps` has for each frame of the order the step done before it, None where a half begins. `said` is
    what must be known of it, in sentences."""

    order: Order
    steps: tuple[Step | None, ...]
    said: tuple[str, ...]


def of_job(clearance: Clearance) -> Rehearsed:
    """The orders of all clearances of its job, stage after stage: what is left of the isolate halves on the
    network in use, then of the restore halves on the network as the job is planned to leave it.

    A crew of the job counts as on the line from the end of the isolate halves to the beginning of its own
    restore half, one of a later stage from the beginning of the restore halves; whoever is out now, from now
    on. Cost: a compilation where the job changes the network.
    """
    of_the_job = Clearance.objects.filter(job=clearance.job_id).select_related("holder")
    rows = list(of_the_job.prefetch_related("limits").order_by("stage", "pk"))
    steps = Step.objects.filter(order__clearance__in=rows, state__in=[Step.State.WAITING, Step.State.GIVEN])
    left = list(
        steps.exclude(order__state=SwitchingOrder.State.WITHDRAWN)
        .select_related("device__structure", "point")
        .order_by("order__clearance__stage", "order", "place")
    )
    isolate, restore = ([step for step in left if step.half == half] for half in (Half.ISOLATE, Half.RESTORE))
    compiled = snapshot.compiled()
    after, said = _as_left(clearance, compiled)
    several = len({step.order_id for step in left}) > 1
    parts = (
        Part(compiled, _moves(isolate, several=several)),
        Part(after, _moves(restore, several=several), _set_by_work(compiled, after)),
    )
    crews = (*_of_the_job(rows, isolate, restore, (compiled, after)), *_others(rows, compiled))
    said += _without_a_place(compiled)
    return Rehearsed(
        Order(parts, positions.open_phases(), crews, tuple(_beside(compiled))),
        (None, *isolate, None, *restore),
        tuple(said),
    )


def _as_left(clearance: Clearance, compiled: Compiled) -> tuple[Compiled, list[str]]:
    """The network as the job is planned to leave it."""
    rows = ChangeSet.objects.filter(clearance__job=clearance.job_id, state=ChangeSet.State.PLANNED)
    changes = [one for row in rows.order_by("pk") for one in named(row.planned)]
    if not changes:
        return compiled, []
    try:
        return snapshot.planned(changes), [
            f"The restore half is played on the network as {row} is planned to leave it: {row.words}."
            for row in rows
        ]
    except CannotBeError as error:
        return compiled, [
            f"The planned changes can't be laid over the network, so they are left out: {error}"
        ]


def _set_by_work(compiled: Compiled, after: Compiled) -> dict[str, str]:
    """New devices stand as they are planned to stand normally."""
    new = after.network.device.keys() - compiled.network.device.keys()
    return {device: phases for device, phases in normally_open(after.network).items() if device in new}


def _moves(steps: Sequence[Step], *, several: bool) -> tuple[Move, ...]:
    return tuple(
        Move(
            f"{step.place} of order {step.order_id}" if several else str(step.place),
            step.device_id,
            step.phases,
            step.operation,
        )
        for step in steps
    )


def _of_the_job(
    rows: Sequence[Clearance],
    isolate: Sequence[Step],
    restore: Sequence[Step],
    networks: tuple[Compiled, Compiled],
) -> Iterator[Crew]:
    begins = len(isolate) + 1  # the frame in which the restore halves begin
    first_stage = min((row.stage for row in rows if row.state not in facts.OVER), default=0)
    for row in rows:
        if row.state in facts.OVER:
            continue
        own = (place for place, step in enumerate(restore) if step.order_id == row.pk)
        yield Crew(
            _named(row),
            frozenset().union(*(facts.limits_of(row, network) for network in networks)),
            first=0 if row.state in facts.OUT else begins - (row.stage == first_stage),
            last=begins + next(own, len(restore)),
        )


def _others(rows: Sequence[Clearance], compiled: Compiled) -> Iterator[Crew]:
    """Whoever else is on the line: clearances, ground sets outside the limits of theirs, field clearances."""
    out = Clearance.objects.filter(state__in=facts.OUT).select_related("holder").prefetch_related("limits")
    limits = {row.pk: facts.limits_of(row, compiled) for row in out}
    for row in out:
        if row not in rows:
            yield Crew(_named(row), limits[row.pk])
    for ground in GroundSet.objects.filter(off_at=None).select_related("clearance__holder").order_by("pk"):
        at_pole = at_device.at_pole(compiled, ground)
        if not at_pole <= limits.get(ground.clearance_id, frozenset()):
            yield Crew(f"ground set {ground} of {_named(ground.clearance)}", at_pole)
    for field in protections.field_clearances():
        inside = protections.inside(compiled, field.nodes, field.inside_phases)
        yield Crew(f"field clearance {field.number} ({field.holder.last_name})", inside)


def _beside(compiled: Compiled) -> Iterator[Hold | Untouched]:
    """Those without a clearance: people under hot-line holds, and the devices that nobody operates."""
    for hold in protections.holds():
        inside = protections.inside(compiled, hold.nodes, hold.phases)
        yield Hold(f"hot-line hold {hold.number} ({hold.holder.last_name})", hold.device_id, inside)
    for row in protections.do_not_operates():
        until = f"{row.name}, met on site, has given back do-not-operate {row.number}"
        yield Untouched(row.device_id, until)
    for field in protections.field_clearances():
        yield Untouched(field.device_id, f"{field.holder} has ended field clearance {field.number}")


def _without_a_place(compiled: Compiled) -> Iterator[str]:
    """Ground sets that can't be looked at, since nobody knows where they are."""
    for ground in GroundSet.objects.filter(off_at=None).select_related("clearance__holder").order_by("pk"):
        if not at_device.at_pole(compiled, ground):
            yield (
                f"The place of ground set {ground} of {_named(ground.clearance)} is not on the network: it "
                "may be here, and no slip is tried on it."
            )


def _named(row: Clearance) -> str:
    return f"clearance {row.pk} ({row.holder.last_name})"
