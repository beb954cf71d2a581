"""Rows into the plain values that `clearances.rules` looks at."""

import datetime
import functools
from collections.abc import Iterable, Mapping

from django.db.models import Q, QuerySet
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.core.network import Compiled
from circuits.models import PositionReport, Structure

from .models import (
    ChangeSet,
    Clearance,
    IsolationPoint,
    Job,
    Limit,
    Person,
    Step,
    SwitchingOrder,
    Tag,
    VoltageTest,
)
from .rules import facts
from .rules.words import in_order, letters

OUT = (Clearance.State.GIVEN, Clearance.State.ACCEPTED, Clearance.State.FROZEN)
OVER = (Clearance.State.RELEASED, Clearance.State.WITHDRAWN)
UNDER_WAY = (SwitchingOrder.State.CHECKED, SwitchingOrder.State.PAUSED)  # orders
Limits = frozenset[tuple[str, str]]


def limits_of(clearance: Clearance, compiled: Compiled) -> Limits:
    """The (node, phase) pairs inside the limits; a line stands for both of its ends."""
    inside: set[tuple[str, str]] = set()
    for limit in clearance.limits.all():
        # What an import has left out since (only possible once the clearance is over) has no place any more.
        line = compiled.network.line.get(limit.line_id or "")
        for node in [line.from_node, line.to_node] if line else [str(limit.node_id)]:
            if there := compiled.network.node.get(node):
                # Where a tap has moved to other phases all that are there now count.
                still = set(limit.phases) <= set(there.phases)
                inside |= {(node, phase) for phase in (limit.phases if still else there.phases)}
    return frozenset(inside)


def live_tags() -> QuerySet[Tag]:
    return Tag.objects.filter(off_at=None)


def points_of(clearance: Clearance) -> tuple[facts.Point, ...]:
    """Each point with what is reported of it by phase."""
    rows = list(clearance.points.all())
    details = positions.details([row.device_id for row in rows])
    return as_points(rows, details, live_tags().filter(clearance=clearance))


def as_points(
    rows: Iterable[IsolationPoint],
    details: Mapping[tuple[str, str], PositionReport | None],
    tags: Iterable[Tag],
) -> tuple[facts.Point, ...]:
    """The points of one clearance; `tags` are those of its own that hang."""
    tagged: dict[str, set[str]] = {}
    for tag in tags:
        tagged.setdefault(tag.device_id, set()).update(tag.phases)
    out = []
    for row in rows:
        reports = {phase: details.get((row.device_id, phase)) for phase in row.phases}
        stands_open = {
            phase for phase, report in reports.items() if report is not None and report.position == "open"
        }
        inoperable = {phase for phase in stands_open if (report := reports[phase]) and report.made_inoperable}
        out.append(
            facts.Point(
                row.device_id,
                row.phases,
                row.tag_number,
                open=in_order(stands_open),
                inoperable=in_order(inoperable),
                tagged=in_order(tagged.get(row.device_id, set()) & set(row.phases)),
            )
        )
    return tuple(out)


def live_paths(
    compiled: Compiled, clearance: Clearance, blocked: Mapping[str, str]
) -> tuple[isolation.LivePath, ...]:
    """Every way by which a source reaches the limits with only `blocked` open, less those the holder has
    agreed on.
    """
    agreed = {row.source_id for row in clearance.dispositions.all()}
    found = every_way(compiled, still_blocks(compiled, blocked), limits_of(clearance, compiled))
    return tuple(path for path in found if path.source_id not in agreed)


def every_way(
    compiled: Compiled, blocked: Mapping[str, str], limits: Limits
) -> tuple[isolation.LivePath, ...]:
    """Every way by which a source reaches the limits with only `blocked` open. Worked out once for all that
    ask the same: a page that renews itself asks it again and again.
    """
    return _every_way(compiled, tuple(sorted(blocked.items())), limits)


@functools.lru_cache(maxsize=16)
def _every_way(
    compiled: Compiled, blocked: tuple[tuple[str, str], ...], limits: Limits
) -> tuple[isolation.LivePath, ...]:
    return isolation.live_paths(compiled, dict(blocked), limits)


def still_blocks(compiled: Compiled, blocked: Mapping[str, str]) -> dict[str, str]:
    """What blocks on this network: a point of which it has lost the device, or some phases, blocks with what
    is there.
    """
    known = compiled.network.device
    return {
        device: in_order(set(phases) & set(known[device].phases))
        for device, phases in blocked.items()
        if device in known
    }


def paths(
    clearance: Clearance, blocked: Mapping[str, str], compiled: Compiled | None = None
) -> tuple[facts.Path, ...]:
    """The same as they are told, on the network in use or on another."""
    compiled = compiled or snapshot.compiled()
    return told(compiled, live_paths(compiled, clearance, blocked))


def nearest(paths: Iterable[isolation.LivePath]) -> dict[isolation.LivePath, int]:
    """The first of the paths that come in over the same device last, each with how many more do: behind one
    cutout lie hundreds of customers' machines. One that reaches a further phase stands by itself.

    There is none only if there are no paths; and what a point farther off would leave comes up once that
    point is among those blocked.
    """
    first: dict[str, isolation.LivePath] = {}
    found: dict[isolation.LivePath, int] = {}
    for path in paths:
        known = first.setdefault(path.devices[-1] if path.devices else path.source_id, path)
        if known in found and set(path.phases) <= set(known.phases):
            found[known] += 1
        else:
            found[path] = 0
    return found


def told(compiled: Compiled, paths: Iterable[isolation.LivePath]) -> tuple[facts.Path, ...]:
    """The nearest of the paths in words, with the number of the others."""
    return tuple(
        facts.Path(path.source_id, path.phases, isolation.words(compiled, path) + _and_more(path, more))
        for path, more in nearest(paths).items()
    )


def _and_more(path: isolation.LivePath, more: int) -> str:
    if not more:
        return ""
    return f", and {more} more {'way' if more == 1 else 'ways'} over {path.devices[-1]}"


def steps_of(clearance: Clearance) -> tuple[facts.Step, ...]:
    rows = Step.objects.filter(order__clearance=clearance).select_related("point", "device")
    return tuple(
        facts.Step(
            row.half,
            row.place,
            row.operation,
            row.device_id,
            row.phases,
            row.state,
            row.tag_number,
            has=row.device.phases,
        )
        for row in rows
    )


def unanswered(clearance: Clearance) -> tuple[str, ...]:
    rows = clearance.affected.filter(care="life_support", answered_at=None).select_related("premises")
    return tuple(f"{row.premises.address} {row.premises.unit}".strip() for row in rows)


def closing(clearance: Clearance) -> tuple[facts.CloseOrder, ...]:
    """Steps under way, of any order, that close one of this clearance's points."""
    rows = Step.objects.filter(
        device__in=clearance.points.values("device"), state=Step.State.GIVEN, operation=Step.Operation.CLOSE
    )
    return tuple(facts.CloseOrder(row.device_id, row.order_id) for row in rows)


def voltage(clearance: Clearance) -> tuple[str, ...]:
    """Pole and phases where voltage was found, and no test reported later, tester proven, found none there.

    Later is by the order of the reports: a clock that runs ahead can't outlive a finding, nor does a test
    that waited in a telephone lift it.
    """
    standing: dict[str, set[str]] = {}
    for test in clearance.tests.order_by("pk"):
        if test.result == VoltageTest.Result.PRESENT:
            standing.setdefault(test.pole, set()).update(test.phases)
        elif test.tester_proven and not test.queued:
            standing.get(test.pole, set()).difference_update(test.phases)
    return tuple(f"{pole}, phase {letters(in_order(found))}" for pole, found in standing.items() if found)


def sound_tests() -> QuerySet[VoltageTest]:
    """The tests that count: no voltage found, tester proven before and after, at a pole of the network."""
    return VoltageTest.objects.filter(
        result=VoltageTest.Result.NONE, tester_proven=True, pole__in=Structure.objects.values("pk")
    )


def tested_since_accepted(clearance: Clearance) -> QuerySet[VoltageTest]:
    """Those under a clearance since its holder accepted it; none while it is not accepted."""
    if clearance.accepted_at is None:
        return VoltageTest.objects.none()
    return sound_tests().filter(clearance=clearance, done_at__gte=clearance.accepted_at)


def phases_of(rows: Iterable[Limit | VoltageTest]) -> str:
    return in_order("".join(row.phases for row in rows))


def hit(what: str, clearance: Clearance) -> facts.Hit:
    """Somebody who would be hit, or is met, and how to reach him."""
    return facts.Hit(what, clearance.pk, str(clearance.holder), clearance.holder.phone)


def in_hours(start: datetime.datetime, end: datetime.datetime) -> QuerySet[Clearance]:
    """The clearances asked for in a window that meets these hours, or out by then."""
    rows = Clearance.objects.exclude(state__in=OVER)
    return rows.filter(Q(window_start__lt=end), Q(promised_end__gt=start) | Q(state__in=OUT))


def same_limits(
    nodes: Iterable[tuple[str, str]],
    start: datetime.datetime,
    end: datetime.datetime,
    *,
    holder: Person,
    job: Job | None,
) -> tuple[facts.Hit, ...]:
    """Other holders' clearances with some of these (node, phases) inside, asked for or out between `start`
    and `end`; other stages of the same `job` are not counted.
    """
    compiled = snapshot.compiled()
    inside = {(node, phase) for node, phases in nodes for phase in phases}
    meeting = in_hours(start, end).exclude(holder=holder).exclude(job=job)
    hits = []
    for row in meeting.select_related("holder").prefetch_related("limits").order_by("pk"):
        if common := inside & limits_of(row, compiled):
            poles = sorted({compiled.network.pole(node) or node for node, _ in common})
            hits.append(hit(f"at {', '.join(poles)}", row))
    return tuple(hits)


def earlier_stages(clearance: Clearance) -> tuple[facts.Hit, ...]:
    """Clearances of earlier stages of the same job that are out."""
    rows = Clearance.objects.filter(job=clearance.job_id, stage__lt=clearance.stage, state__in=OUT)
    return tuple(hit(row.limits_words, row) for row in rows.select_related("holder").order_by("pk"))


def next_stages(clearance: Clearance) -> tuple[facts.NextStage, ...]:
    """The stage that follows at once when this clearance is the last of its own to be released, with what its
    protection is short of.
    """
    job = Clearance.objects.filter(job=clearance.job_id)
    if job.filter(stage=clearance.stage, state__in=OUT).exclude(pk=clearance.pk).exists():
        return ()
    later = job.filter(stage__gt=clearance.stage, state=Clearance.State.ASKED).order_by("stage", "pk")
    rows = [row for row in later.select_related("order") if row.stage == later[0].stage]
    return tuple(facts.NextStage(row.pk, row.stage, _short(row)) for row in rows)


def _short(clearance: Clearance) -> tuple[str, ...]:
    order = getattr(clearance, "order", None)
    if order is None or order.state != "checked":
        return (f"its order is {order.state if order else 'not written'}",)
    return tuple(
        f"{point.device} is not reported open, made inoperable and tagged on every phase"
        for point in points_of(clearance)
        if point.blocking != in_order(point.phases)
    )


def facts_of(clearance: Clearance, *, trace_paths: bool = True) -> facts.Clearance:
    """All that the rules may ask of a clearance. `trace_paths=False` leaves the live paths out where no rule
    looks at them.
    """
    points = points_of(clearance)
    order = getattr(clearance, "order", None)
    changes = list(open_changes(clearance).select_related("clearance"))
    return facts.Clearance(
        number=clearance.pk,
        state=clearance.state,
        holder=str(clearance.holder),
        now_holds=clearance.holder.may_hold_on(timezone.localdate()),
        order_state=order.state if order else "not written",
        points=points,
        steps=steps_of(clearance),
        paths=paths(clearance, {point.device: point.blocking for point in points if point.blocking})
        if trace_paths
        else (),
        people=tuple(clearance.sign_ons.filter(off_at=None).values_list("name", flat=True)),
        grounds=tuple(
            f"{ground.label} at {ground.pole}" for ground in clearance.ground_sets.filter(off_at=None)
        ),
        tags=tuple(live_tags().filter(clearance=clearance).values_list("number", flat=True)),
        unanswered=unanswered(clearance),
        closing=closing(clearance),
        voltage=voltage(clearance),
        earlier_stages=earlier_stages(clearance),
        next_stages=next_stages(clearance),
        changes=tuple(map(change_words, changes)),
        perhaps_built=tuple(change_words(row) for row in changes if not _only_planned(row)),
    )


def _only_planned(row: ChangeSet) -> bool:
    """What nobody can have built yet: the clearance for it is not given."""
    before = (Clearance.State.ASKED, Clearance.State.WITHDRAWN)
    return row.state == ChangeSet.State.PLANNED and row.clearance.state in before


def open_changes(clearance: Clearance) -> QuerySet[ChangeSet]:
    """The change sets of a clearance's job of which the board does not know how they were built."""
    return ChangeSet.objects.filter(clearance__job=clearance.job_id).filter(
        Q(state=ChangeSet.State.PLANNED) | ~Q(unsettled="")
    )


def change_words(row: ChangeSet) -> str:
    """A change set that is open, and why."""
    why = row.unsettled.rstrip(".") or "it is planned only"
    return f"Change set {row.pk} ({row.words}) is open ({why})"
