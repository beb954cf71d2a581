"""Rows into the plain values that `clearances.rules` looks at."""

from collections.abc import Collection, Iterable, Mapping

from django.db.models import Q, QuerySet
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation, trace
from circuits.core.network import Compiled
from circuits.core.parallels import parallels
from circuits.models import PositionReport, Structure

from .models import ChangeSet, Clearance, GroundSet, IsolationPoint, Limit, SignOn, Step, Tag, VoltageTest
from .rules import facts
from .rules.words import in_order, letters

OUT = (Clearance.State.GIVEN, Clearance.State.ACCEPTED, Clearance.State.FROZEN)
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
    agreed on. A point of which the network has lost the device, or some phases, blocks with what is there.
    """
    agreed = {row.source_id for row in clearance.dispositions.all()}
    inside = limits_of(clearance, compiled)
    there = compiled.network.device
    kept = {
        device: in_order(set(phases) & set(there[device].phases))
        for device, phases in blocked.items()
        if device in there
    }
    return tuple(
        path for path in isolation.live_paths(compiled, kept, inside) if path.source_id not in agreed
    )


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
            row.point.tag_number,
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

    Later is by the order of the reports: a clock that runs ahead can't outlive a finding.
    """
    standing: dict[str, set[str]] = {}
    for test in clearance.tests.order_by("pk"):
        if test.result == VoltageTest.Result.PRESENT:
            standing.setdefault(test.pole, set()).update(test.phases)
        elif test.tester_proven:
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


def facts_of(clearance: Clearance, *, trace_paths: bool = True) -> facts.Clearance:
    """All that the rules may ask of a clearance. `trace_paths=False` leaves the live paths out where no rule
    looks at them.
    """
    points = points_of(clearance)
    order = getattr(clearance, "order", None)
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
        changes=tuple(map(change_words, open_changes(clearance))),
    )


def open_changes(clearance: Clearance) -> QuerySet[ChangeSet]:
    """The change sets of a clearance's job of which the board does not know how they were built."""
    return ChangeSet.objects.filter(clearance__job=clearance.job_id).filter(
        Q(state=ChangeSet.State.PLANNED) | ~Q(unsettled="")
    )


def change_words(row: ChangeSet) -> str:
    """A change set that is open, and why."""
    why = row.unsettled.rstrip(".") or "it is planned only"
    return f"Change set {row.pk} ({row.words}) is open ({why})"


def tags_at(device_id: str) -> tuple[facts.Tag, ...]:
    """Every live tag at a device, whoever's it is."""
    return tuple(
        facts.Tag(
            tag.number,
            tag.clearance_id,
            str(tag.clearance.holder),
            tag.clearance.holder.phone,
            f"{timezone.localtime(tag.clearance.promised_end):%H:%M}",
        )
        for tag in live_tags()
        .filter(device_id=device_id)
        .select_related("clearance__holder")
        .order_by("number")
    )


def steps_out_at(device_id: str, *, but: int) -> tuple[facts.StepOut, ...]:
    """Steps of orders other than `but` that are given at a device and not yet reported."""
    rows = Step.objects.filter(device=device_id, state=Step.State.GIVEN).exclude(order=but)
    return tuple(
        facts.StepOut(row.order_id, row.place, device_id, row.given_to) for row in rows.order_by("pk")
    )


def holders_at(device_id: str) -> tuple[facts.Hit, ...]:
    """Every clearance that is out and has this device as a point, whether its tag is still reported there or
    not.
    """
    rows = Clearance.objects.filter(points__device=device_id, state__in=OUT).select_related("holder")
    return tuple(
        facts.Hit(device_id, row.pk, str(row.holder), row.holder.phone) for row in rows.order_by("pk")
    )


def ordered_closed() -> dict[str, str]:
    """Device id -> the phases that steps under way, of any order, close: given, and perhaps done by now."""
    rows = Step.objects.filter(state=Step.State.GIVEN, operation=Step.Operation.CLOSE)
    return dict(rows.values_list("device_id", "phases"))


def without(open_phases: Mapping[str, str], closed: Mapping[str, str]) -> dict[str, str]:
    """What stands open when the phases of `closed` close."""
    return {
        device: in_order(set(phases) - set(closed.get(device, ""))) for device, phases in open_phases.items()
    }


def _there(compiled: Compiled, device_id: str, phases: str) -> str:
    """Those of the phases that a device has; all that it has, where its tap has moved away from them."""
    has = compiled.network.device[device_id].phases
    return in_order(set(phases) & set(has)) or has


def hits_of_closing(device_id: str, phases: str) -> tuple[facts.Hit, ...]:
    """Each clearance that is out or has people signed on, and each ground set on, on which closing these
    phases would put voltage or keep it, with all else as reported and every close that is ordered done.

    Hit is whatever has a node-phase on which more voltage may stand after than before, over a bank too, or
    which is not de-energized after and joined to the closed phases; a clearance by its limits, a ground set
    by its pole. A ground set whose place is not on the network is always hit: it may be here.
    """
    compiled = snapshot.compiled()
    phases = _there(compiled, device_id, phases)
    open_now = without(positions.open_phases(), ordered_closed())
    before = trace.trace(compiled, open_now)
    after = trace.trace(compiled, without(open_now, {device_id: phases}))
    rank = list(trace.Answer)  # from energized down to de-energized
    # A tie's legs may have other letters on its two sides.
    ends = [compiled.switches[number].ends for number in compiled.numbers([(device_id, phases)])]
    joined = {after.island_of(*compiled.points[end]) for end, _ in ends}

    def hit(nodes: Collection[tuple[str, str]]) -> bool:
        answers = {point: after.answer(*point) for point in nodes}
        return any(
            rank.index(answer) < rank.index(before.answer(*point))
            or (answer is not trace.Answer.DEENERGIZED and after.island_of(*point) in joined)
            for point, answer in answers.items()
        )

    hits = []
    at_work = Clearance.objects.filter(
        Q(state__in=OUT)
        # Whoever signed on before the giving is at the briefing, not on the line.
        | (Q(pk__in=SignOn.objects.filter(off_at=None).values("clearance")) & ~Q(state=Clearance.State.ASKED))
    )
    for clearance in at_work.select_related("holder").prefetch_related("limits").order_by("pk"):
        if hit(limits_of(clearance, compiled)):
            inside = clearance.limits_words.partition(". ")[0]
            hits.append(_hit(f"{inside[0].lower()}{inside[1:]}", clearance))
    for ground in GroundSet.objects.filter(off_at=None).select_related("clearance__holder"):
        at_pole = {
            (node.id, phase)
            for node in compiled.network.nodes
            if node.structure == ground.pole
            for phase in set(ground.phases) & set(node.phases)
        }
        if not at_pole:
            what = f"ground set {ground}, a place that is not on the network: it may be here"
            hits.append(_hit(what, ground.clearance))
        elif hit(at_pole):
            hits.append(_hit(f"ground set {ground}", ground.clearance))
    return tuple(hits)


def _hit(what: str, clearance: Clearance) -> facts.Hit:
    return facts.Hit(what, clearance.pk, str(clearance.holder), clearance.holder.phone)


def unlike_by_closing(device_id: str, phases: str) -> tuple[str, ...]:
    """The ties across unlike phases that would be closed, or would be energized while they stand closed, if
    these phases closed with all else as reported and every close that is ordered done.
    """
    compiled = snapshot.compiled()
    phases = _there(compiled, device_id, phases)
    open_now = without(positions.open_phases(), ordered_closed())
    before, then = (trace.trace(compiled, one) for one in (open_now, without(open_now, {device_id: phases})))

    def energized(state: trace.Trace, tie: str) -> bool:
        device = compiled.network.device[tie]
        return any(
            state.answer(node, phase) is trace.Answer.ENERGIZED
            for node in (device.from_node, device.to_node)
            for phase in compiled.network.node[node].phases
        )

    return tuple(
        tie.words
        for tie in parallels(then).unlike
        if tie.device == device_id or (energized(then, tie.device) and not energized(before, tie.device))
    )
