"""Load picked up by ties: how devices stand once the points are open and the ties closed, who is out then or
in between, and what it meets in the same hours.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from django.db.models import Q

from circuits import positions, snapshot
from circuits.core import joins
from circuits.core.standing import also_open, still_there, without
from circuits.core.trace import trace
from circuits.core.values import normally_open

from . import effects, facts
from .models import Clearance, Step
from .rules import facts as values

Stands = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Planned:
    """What one or more clearances have planned to move: device -> phases that they open, and that they
    close."""

    opens: Stands = field(default_factory=dict)
    closes: Stands = field(default_factory=dict)

    def on(self, stands: Stands) -> dict[str, str]:
        """How devices stand once it is done. What one opens and another closes stands open."""
        return also_open(without(stands, self.closes), self.opens)

    def __or__(self, other: "Planned") -> "Planned":
        return Planned(also_open(self.opens, other.opens), also_open(self.closes, other.closes))


def planned(clearance: Clearance, points: Stands | None = None) -> Planned:
    """Of one clearance: its points (or those given, as they stand), and what it moves besides."""
    opens = {row.device_id: row.phases for row in clearance.points.all()} if points is None else dict(points)
    closes: dict[str, str] = {}
    known = snapshot.compiled().network.device
    for row in clearance.pick_ups.all():
        if device := known.get(row.device_id):
            (closes if row.closes else opens)[row.device_id] = device.phases
    return Planned(opens, closes)


def kept_out(clearance: Clearance) -> dict[str, bool]:
    """Premises that this clearance keeps from their supply, as the network stands now and as it stands
    normally; and whether only while load is switched over to a tie and back.

    As it stands normally counts those in who are out today for another reason, and would be on again without
    this one.
    """
    plan = planned(clearance)
    out: set[str] = set()
    briefly: set[str] = set()
    steps = _steps(clearance) if clearance.pick_ups.exists() else []
    for stands in (positions.open_phases(), normally_open(snapshot.compiled().network)):
        before = effects.without_supply(stands)
        out |= effects.without_supply(plan.on(stands)) - before
        for _, _, after in turns(steps, stands):
            briefly |= effects.without_supply(after) - before
    return {premises: premises not in out for premises in sorted(out | briefly)}


def _steps(clearance: Clearance) -> list[Step]:
    """The steps of its order, in their turn."""
    return list(Step.objects.filter(order=clearance.pk).order_by("half", "place"))


def turns(steps: Iterable[Step], stands: Stands) -> Iterator[tuple[Step, dict[str, str], dict[str, str]]]:
    """How devices stand before and after each step that moves one."""
    now = dict(stands)
    known = snapshot.compiled().network.device
    for step in steps:
        if step.operation not in (Step.Operation.OPEN, Step.Operation.CLOSE) or step.device_id not in known:
            continue
        moved = {step.device_id: still_there(step.phases, known[step.device_id].phases)}
        was, now = (
            now,
            (also_open(now, moved) if step.operation == Step.Operation.OPEN else without(now, moved)),
        )
        yield step, was, now


def fed_by(device: str, *, but: int) -> tuple[values.Hit, ...]:
    """The other clearances that have load picked up by a tie: their switching has begun, and they have not
    opened it again, or left that to another."""
    begun = Q(state__in=facts.OUT) | Q(order__steps__state=Step.State.REPORTED)
    picks_up = Q(pick_ups__device=device, pick_ups__closes=True)
    rows = Clearance.objects.filter(begun, picks_up, order__state__in=facts.UNDER_WAY)
    given_back = Step.objects.filter(
        half=Step.Half.RESTORE,
        device=device,
        point=None,
        state__in=[Step.State.REPORTED, Step.State.LEFT_OUT],
    )
    left = rows.exclude(pk=but).exclude(order__steps__in=given_back)
    return tuple(facts.hit(device, row) for row in left.select_related("holder").distinct().order_by("pk"))


def joined_in_turn(clearance: Clearance) -> tuple[tuple[str, str], ...]:
    """For an order that picks load up: the devices whose close, in its turn, would join what may never be
    joined, each with what that is in words. Cost: the parallels of two states a close."""
    if not clearance.pick_ups.exists():
        return ()
    compiled = snapshot.compiled()
    # What is done stands on the board already, and what is left out moves nothing.
    waiting = [step for step in _steps(clearance) if step.state == Step.State.WAITING]
    return tuple(
        (step.device_id, words)
        for step, was, then in turns(waiting, positions.open_phases())
        if step.operation == Step.Operation.CLOSE
        for words in joins.never_joined(trace(compiled, was), trace(compiled, then))
    )


def made_before_broken(closes: Stands) -> bool:
    """Whether these ties may be closed before the points are opened, as everything stands now."""
    compiled, stands = snapshot.compiled(), positions.open_phases()
    return joins.made_before_broken(trace(compiled, stands), trace(compiled, without(stands, closes)))


def meeting(clearance: Clearance) -> tuple[values.Hit, ...]:
    """Of the other clearances of its hours those with which more customers would be out than each of the two
    counts, because what one picks up hangs on what the other opens; or that move one device to two sides, or
    both close one tie. The stages of one job follow each other, and are not looked at.

    On the network as it stands normally. Cost: some traces for each pair of which one picks load up.
    """
    stands = normally_open(snapshot.compiled().network)
    mine = planned(clearance)
    others = facts.in_hours(clearance.window_start, clearance.promised_end).exclude(job=clearance.job_id)
    hits = []
    for row in others.filter(order__state__in=facts.UNDER_WAY).select_related("holder").order_by("pk"):
        theirs = planned(row)
        if words := _wrong(mine, theirs, stands):
            hits.append(facts.hit(words, row))
    return tuple(hits)


def _wrong(mine: Planned, theirs: Planned, stands: Stands) -> str:
    if not (mine.closes or theirs.closes):
        return ""
    if both_ways := sorted({*mine.closes} & {*theirs.opens} | {*mine.opens} & {*theirs.closes}):
        return f"One of the two opens {', '.join(both_ways)} and the other closes it"
    if shared := sorted({*mine.closes} & {*theirs.closes}):
        return f"Both close {', '.join(shared)}: whichever is done first opens it again"
    together = effects.loses(stands, (mine | theirs).on(stands))
    more = together.difference(*(effects.without_supply(plan.on(stands)) for plan in (mine, theirs)))
    return f"With the points of both open {len(more)} customers are out whom neither counts" if more else ""
