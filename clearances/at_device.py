"""What stands at one device, and whom and what closing it would hit or join."""

from collections.abc import Collection

from django.db.models import Q
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import trace
from circuits.core.answers import is_more
from circuits.core.joins import never_joined
from circuits.core.network import Compiled
from circuits.core.standing import also_open, still_there, without

from . import facts, protections
from .models import Clearance, GroundSet, SignOn, Step
from .rules import facts as values


def tags_at(device_id: str) -> tuple[values.Tag, ...]:
    """Every live tag at a device, whoever's it is."""
    return tuple(
        values.Tag(
            tag.number,
            tag.clearance_id,
            str(tag.clearance.holder),
            tag.clearance.holder.phone,
            f"{timezone.localtime(tag.clearance.promised_end):%H:%M}",
        )
        for tag in facts.live_tags()
        .filter(device_id=device_id)
        .select_related("clearance__holder")
        .order_by("number")
    )


def steps_out_at(device_id: str, *, but: int) -> tuple[values.StepOut, ...]:
    """Steps of orders other than `but` that are given at a device and not yet reported."""
    rows = Step.objects.filter(device=device_id, state=Step.State.GIVEN).exclude(order=but)
    return tuple(
        values.StepOut(row.order_id, row.place, device_id, row.given_to) for row in rows.order_by("pk")
    )


def holders_at(device_id: str) -> tuple[values.Hit, ...]:
    """Every clearance that is out and has this device as a point, whether its tag is still reported there or
    not.
    """
    rows = Clearance.objects.filter(points__device=device_id, state__in=facts.OUT).select_related("holder")
    return tuple(
        values.Hit(device_id, row.pk, str(row.holder), row.holder.phone) for row in rows.order_by("pk")
    )


def ordered_closed() -> dict[str, str]:
    """Device id -> the phases that steps under way, of any order, close: given, and perhaps done by now."""
    rows = Step.objects.filter(state=Step.State.GIVEN, operation=Step.Operation.CLOSE)
    return dict(rows.values_list("device_id", "phases"))


def there(compiled: Compiled, device_id: str, phases: str) -> str:
    """Those of the phases that a device has; all that it has, where its tap has moved away from them."""
    return still_there(phases, compiled.network.device[device_id].phases)


def hits_of_closing(device_id: str, phases: str) -> tuple[values.Hit, ...]:
    """Each clearance that is out or has people signed on, each ground set on, each field clearance and each
    hot-line hold on which closing these phases would put voltage or keep it, with all else as reported and
    every close that is ordered done.

    Hit is whatever has a node-phase on which more voltage may stand after than before, over a bank too, or
    which is not de-energized after and joined to the closed phases; a clearance by its limits, a ground set
    by its pole. A ground set whose place is not on the network is always hit: it may be here. A hot-line hold
    works energized: it is hit where more voltage comes, and by every close of its own device.
    """
    compiled = snapshot.compiled()
    phases = there(compiled, device_id, phases)
    open_now = without(positions.open_phases(), ordered_closed())
    before = trace.trace(compiled, open_now)
    after = trace.trace(compiled, without(open_now, {device_id: phases}))
    # A tie's legs may have other letters on its two sides.
    ends = [compiled.switches[number].ends for number in compiled.numbers([(device_id, phases)])]
    joined = {after.island_of(*compiled.points[end]) for end, _ in ends}

    def more(nodes: Collection[tuple[str, str]]) -> bool:
        return more_voltage(before, after, nodes)

    def other_way(holds_device: str, nodes: Collection[tuple[str, str]]) -> bool:
        if holds_device not in compiled.network.device:
            return False
        apart = {holds_device: compiled.network.device[holds_device].phases}
        was, then = also_open(open_now, apart), also_open(without(open_now, {device_id: phases}), apart)
        return more_voltage(trace.trace(compiled, was), trace.trace(compiled, then), nodes)

    def hit(nodes: Collection[tuple[str, str]]) -> bool:
        return more(nodes) or any(
            after.answer(*at) is not trace.Answer.DEENERGIZED and after.island_of(*at) in joined
            for at in nodes
        )

    hits = []
    at_work = Clearance.objects.filter(
        Q(state__in=facts.OUT)
        # Whoever signed on before the giving is at the briefing, not on the line.
        | (Q(pk__in=SignOn.objects.filter(off_at=None).values("clearance")) & ~Q(state=Clearance.State.ASKED))
    )
    for clearance in at_work.select_related("holder").prefetch_related("limits").order_by("pk"):
        if hit(facts.limits_of(clearance, compiled)):
            inside = clearance.limits_words.partition(". ")[0]
            hits.append(facts.hit(f"{inside[0].lower()}{inside[1:]}", clearance))
    for ground in GroundSet.objects.filter(off_at=None).select_related("clearance__holder"):
        found = at_pole(compiled, ground)
        if not found:
            what = f"ground set {ground}, a place that is not on the network: it may be here"
            hits.append(facts.hit(what, ground.clearance))
        elif hit(found):
            hits.append(facts.hit(f"ground set {ground}", ground.clearance))
    beside = protections.hits(compiled, device_id, energized=hit, more=more, other_way=other_way)
    return (*hits, *beside)


def at_pole(compiled: Compiled, ground: GroundSet) -> facts.Limits:
    """The (node, phase) pairs that a ground set is on; none where its place is not on the network."""
    return frozenset(
        (node.id, phase)
        for node in compiled.network.nodes
        if node.structure == ground.pole
        for phase in set(ground.phases) & set(node.phases)
    )


def more_voltage(before: trace.Trace, after: trace.Trace, nodes: Collection[tuple[str, str]]) -> bool:
    """May more voltage stand on any of these node-phases after than before?"""
    return any(is_more(before.answer(*at), after.answer(*at)) for at in nodes)


def joins_of_closing(device_id: str, phases: str) -> tuple[str, ...]:
    """What closing these phases would join that may never be joined, in words, with all else as reported and
    every close that is ordered done. The device itself counts as open on them before: closed once more, it
    joins what it joins.
    """
    compiled = snapshot.compiled()
    phases = there(compiled, device_id, phases)
    open_now = without(positions.open_phases(), ordered_closed())
    itself = {device_id: phases}
    before, then = also_open(open_now, itself), without(open_now, itself)
    return never_joined(trace.trace(compiled, before), trace.trace(compiled, then))
