"""What stands that is no clearance: rows into the values that `clearances.rules.protections` looks at.

Never drawn or said like a clearance; what customer service reads has none of it.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.core.answers import Answer, is_more
from circuits.core.network import Compiled
from circuits.core.standing import also_open
from circuits.core.trace import trace
from circuits.core.ways import COUPLINGS
from circuits.models import PositionReport

from .models import DoNotOperate, FieldClearance, HoldReport, HotLineHold
from .rules import facts, protections

Said = HoldReport.Said
STANDS = (HotLineHold.State.GIVEN, HotLineHold.State.ACCEPTED)
Nodes = Collection[tuple[str, str]]


def holds() -> QuerySet[HotLineHold]:
    """The hot-line holds that are out."""
    return _with_reports(HotLineHold.objects.filter(state__in=STANDS))


def asked_or_out() -> QuerySet[HotLineHold]:
    return _with_reports(HotLineHold.objects.filter(state__in=[HotLineHold.State.ASKED, *STANDS]))


def _with_reports(rows: QuerySet[HotLineHold]) -> QuerySet[HotLineHold]:
    return rows.select_related("holder", "device__structure").prefetch_related("reports").order_by("pk")


def left_behind() -> QuerySet[HotLineHold]:
    """Holds that are over, whose tag is still reported hung or whose reclosing is still reported off."""

    def newest(*words: str) -> Subquery:
        of_one = HoldReport.objects.filter(hold=OuterRef("pk"), said__in=words).order_by("-pk")
        return Subquery(of_one.values("said")[:1])

    over = HotLineHold.objects.exclude(state__in=[HotLineHold.State.ASKED, *STANDS])
    said = over.annotate(
        reclosing=newest(Said.RECLOSE_OFF, Said.RECLOSE_ON), tag=newest(Said.TAG_HUNG, Said.TAG_OFF)
    )
    return _with_reports(said.filter(Q(reclosing=Said.RECLOSE_OFF) | Q(tag=Said.TAG_HUNG)))


def do_not_operates() -> QuerySet[DoNotOperate]:
    """The customers' do-not-operates that stand."""
    given = DoNotOperate.objects.filter(state=DoNotOperate.State.GIVEN)
    return given.select_related("device__structure").order_by("pk")


def field_clearances() -> QuerySet[FieldClearance]:
    """The field clearances that are on."""
    on = FieldClearance.objects.filter(state=FieldClearance.State.ON)
    return on.select_related("holder", "device__structure").order_by("pk")


def kept_open() -> set[str]:
    """The devices that one of them says why they stand open."""
    kept = DoNotOperate.objects.filter(state=DoNotOperate.State.GIVEN).values_list("device_id")
    on = FieldClearance.objects.filter(state=FieldClearance.State.ON).values_list("device_id")
    return {device for (device,) in kept.order_by().union(on)}


def last(hold: HotLineHold, *words: str) -> HoldReport | None:
    """The last entered of what was said of one subject."""
    return max((one for one in hold.reports.all() if one.said in words), key=lambda one: one.pk, default=None)


def reclosing_off(hold: HotLineHold) -> bool:
    found = last(hold, Said.RECLOSE_OFF, Said.RECLOSE_ON)
    return found is not None and found.said == Said.RECLOSE_OFF


def tagged(hold: HotLineHold) -> bool:
    found = last(hold, Said.TAG_HUNG, Said.TAG_OFF)
    return found is not None and found.said == Said.TAG_HUNG


def fed_too(rows: Iterable[HotLineHold], stands: Mapping[str, str]) -> Iterator[tuple[HotLineHold, str]]:
    """Each of these holds with a way by which a station feeds its place past every device that is kept from
    reclosing for its holder ("" if none does), with these phases of devices open. What only may come, by a
    customer's second feed or over a bank, does not count: it is no way of the utility's that closes again.
    """
    compiled = snapshot.compiled()
    station = {source.id for source in compiled.network.sources if source.is_station}
    kept = [one for one in asked_or_out() if reclosing_off(one) and tagged(one)]
    for hold in rows:
        own = {hold.device_id, *(one.device_id for one in kept if one.holder_id == hold.holder_id)}
        apart = also_open(stands, {one.id: one.phases for one in compiled.network.devices if one.id in own})
        place = inside(compiled, hold.nodes, hold.phases)
        then = trace(compiled, apart)
        fed = {at for at in place if then.answer(*at) is Answer.ENERGIZED}
        ways = [way for way in isolation.live_paths(compiled, apart, fed) if way.source_id in station]
        direct = [way for way in ways if not any(steps[0][0] in COUPLINGS for steps in way.steps())]
        yield hold, next((isolation.words(compiled, way) for way in (*direct, *ways)), "")


def answered(hold: HotLineHold) -> bool:
    """Whether the holder has lately said to stand down or to stay for an opening."""
    return _lately(last(hold, Said.STANDS_DOWN, Said.STAYS))


def agreed(hold: HotLineHold, opened: datetime | None) -> bool:
    """Whether the holder has lately said yes to a close, and after the desk knew of the opening."""
    found = last(hold, Said.YES, Said.NO)
    if found is None or found.said != Said.YES or not _lately(found):
        return False
    return opened is None or found.entered_at > opened


def _lately(answer: HoldReport | None) -> bool:
    age = timedelta(minutes=settings.HOLD_ANSWER_MINUTES)
    return answer is not None and answer.entered_at > timezone.now() - age


def last_opened(*device_ids: str) -> datetime | None:
    """When the desk last heard that one of these devices stands open."""
    reports = PositionReport.objects.filter(device__in=device_ids, position="open")
    found: datetime | None = reports.aggregate(at=Max("entered_at"))["at"]
    return found


def at_device(device_id: str, *, opening: str = "") -> protections.AtDevice:
    """All of the three kinds at one device. With the phases that are to be opened, a hold at another device
    too whose crew would lose its supply by it.
    """
    opened = last_opened(device_id)
    out = list(holds())
    losing = _losing(out, device_id, opening) if opening else []
    return protections.AtDevice(
        holds=tuple(
            protections.HotLineHold(
                row.number, str(row.holder), row.holder.phone, answered(row), agreed(row, opened)
            )
            for row in out
            if row.device_id == device_id or row in losing
        ),
        do_not_operates=tuple(
            protections.DoNotOperate(row.number, row.name, row.employer, row.phone)
            for row in do_not_operates().filter(device=device_id)
        ),
        field_clearances=tuple(
            protections.FieldClearance(row.number, str(row.holder), row.holder.phone)
            for row in field_clearances().filter(device=device_id)
        ),
    )


def _losing(out: list[HotLineHold], device_id: str, phases: str) -> list[HotLineHold]:
    """The holds at whose place less stands once these phases are open."""
    elsewhere = [row for row in out if row.device_id != device_id]
    if not elsewhere:
        return []
    compiled, stands = snapshot.compiled(), positions.open_phases()
    before, after = trace(compiled, stands), trace(compiled, also_open(stands, {device_id: phases}))
    return [
        row
        for row in elsewhere
        if any(
            is_more(after.answer(*at), before.answer(*at)) for at in inside(compiled, row.nodes, row.phases)
        )
    ]


def said_of(device_id: str) -> tuple[str, ...]:
    """The same as sentences, for whoever is about to report or to order something there."""
    here = at_device(device_id)
    return (
        *(f"{one.reach}, works energized beyond it under hot-line hold {one.number}." for one in here.holds),
        *(
            f"Do-not-operate {one.number} is on it for {one.name} of {one.employer}, {one.phone}."
            for one in here.do_not_operates
        ),
        *(
            f"{one.holder}, {one.phone}, works beyond it under field clearance {one.number}, no operator "
            "order."
            for one in here.field_clearances
        ),
    )


def inside(compiled: Compiled, nodes: Iterable[str], phases: str) -> frozenset[tuple[str, str]]:
    """The (node, phase) pairs; nodes that an import has left out since have no place any more."""
    there = compiled.network.node
    return frozenset(
        (node, phase) for node in nodes if node in there for phase in phases if phase in there[node].phases
    )


def hits(
    compiled: Compiled,
    device_id: str,
    *,
    energized: Callable[[Nodes], bool],
    more: Callable[[Nodes], bool],
    other_way: Callable[[str, Nodes], bool],
) -> Iterator[facts.Hit]:
    """Whom of these a close of the device would hit: a field clearance where voltage comes or stays inside, a
    hot-line hold where more voltage comes than stands there now, or comes another way than over its device
    (`other_way`), whose reclosing is the only one that is off.
    """
    for field in field_clearances():
        if energized(inside(compiled, field.nodes, field.inside_phases)):
            what = f"what is beyond {field.device_id}"
            yield _hit(what, field.holder, f"field clearance {field.number}")
    for hold in holds():
        place, what = inside(compiled, hold.nodes, hold.phases), f"the line at {hold.place_words}"
        second = hold.device_id != device_id and other_way(hold.device_id, place)
        if hold.device_id == device_id or more(place) or second:
            what += f" another way than over {hold.device_id}" if second else ""
            yes = agreed(hold, last_opened(device_id, hold.device_id))
            yield _hit(what, hold.holder, f"hot-line hold {hold.number}", agreed=yes)


def _hit(what: str, holder: object, other: str, *, agreed: bool = False) -> facts.Hit:
    return facts.Hit(what, 0, str(holder), getattr(holder, "phone", ""), other, agreed)
