"""A choice of the planner, proved without the program that made it, and told as a plan."""

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cached_property

import numpy as np

from circuits.core.answers import PremisesState
from circuits.core.isolation import LivePath, live_paths, words
from circuits.core.network import Compiled
from circuits.core.parallels import parallels
from circuits.core.planning.graph import ELSEWHERE, Ground, Unit
from circuits.core.planning.loading import Carried, Floats, Loading, Thing
from circuits.core.planning.model import Choice
from circuits.core.planning.plans import Operation, Plan, Point, Question
from circuits.core.standing import also_open, without
from circuits.core.trace import Trace, trace
from circuits.core.values import letters

ROUNDING = 0.001  # kVA
_FULLEST = 5  # how many of the lines and devices that carry more than now are told


class Present:
    """How things are now, against which a plan is held. Cost: one trace, one sum of the loads."""

    def __init__(self, compiled: Compiled, question: Question, loading: Loading) -> None:
        self.compiled = compiled
        self.question = question
        self.loading = loading
        self.state = trace(compiled, question.open_now)
        self.carried = loading.carried(self.state)
        self.not_energized = frozenset(self.state.not_energized())
        self.care = {premises.id: premises.care for premises in compiled.network.premises}
        self.disconnects: dict[str, tuple[str, ...]] = {}
        for source in compiled.network.sources:
            if source.device and not source.is_station:
                known = self.disconnects.get(source.device, ())
                self.disconnects[source.device] = (*known, source.id)

    def ways(self, blocked: Mapping[str, str], but: Collection[str]) -> list[LivePath]:
        """The ways to the limits that are left, but those of these sources."""
        found = live_paths(self.compiled, blocked, self.question.limits)
        return [path for path in found if path.source_id not in but]

    def state_with(self, opened: Mapping[str, str], closed: Mapping[str, str]) -> Trace:
        """The state once these phases of devices are opened and closed."""
        return trace(self.compiled, without(also_open(self.question.open_now, opened), closed))

    def newly_without(self, state: Trace) -> dict[str, PremisesState]:
        """The premises that are energized now and not in a state."""
        found = state.not_energized()
        return {one: found[one] for one in found if one not in self.not_energized}


class Proving:
    """A choice, proved without the program that made it; of the sources `undecided` it parts nothing."""

    def __init__(self, present: Present, ground: Ground, choice: Choice, undecided: Collection[str]) -> None:
        self.present = present
        self.compiled = present.compiled
        self.ground = ground
        self.choice = choice
        self.undecided = undecided
        units = ground.units
        self.used = {*choice.opened, *choice.checked}
        self.worked = _side(ground, ground.inside, self.used)
        self.touching = sorted(
            {
                edge.unit
                for edge in ground.edges
                if edge.unit in self.used and (edge.a in self.worked) != (edge.b in self.worked)
            }
        )
        self.points = tuple(self._points([units[one] for one in self.touching]))
        self.opened = _by_device(units[one] for one in choice.opened)
        self.closed = _by_device(units[one] for one in choice.closed)
        self.no_points = _by_device(units[one] for one in choice.opened if one not in self.touching)
        self.after = present.state_with(self.opened, self.closed)
        self.newly = present.newly_without(self.after)

    @property
    def parting_stations(self) -> tuple[str, ...]:
        """The devices of which the next plan has to leave one out: those behind which a station stands, since
        another cutout before the same roof would make no other plan; all, if none is such."""
        fed = _side(self.ground, self.ground.fed, self.used)
        ours = [
            edge.unit
            for edge in self.ground.edges
            if edge.unit in self.touching and not fed.isdisjoint((edge.a, edge.b))
        ]
        return tuple(_by_device(self.ground.units[one] for one in sorted(ours or self.used)))

    def _points(self, units: list[Unit]) -> Iterator[Point]:
        open_now = self.present.question.open_now
        for device, phases in _by_device(units).items():
            stand_open = set(phases) & set(open_now.get(device, ""))
            yield Point(
                self.compiled.network.device[device],
                open=letters(set(phases) - stand_open),
                check_open=letters(stand_open),
                sources=tuple(self.present.disconnects.get(device, ())),
            )

    @cached_property
    def carried(self) -> Floats:
        return self.present.loading.carried(self.after)

    @cached_property
    def over(self) -> list[Thing]:
        """What would carry more than it may, and more than now."""
        loading = self.present.loading
        over = self.carried > np.maximum(loading.limits, self.present.carried) + 2 * ROUNDING
        return [(loading.links[at].kind, loading.links[at].id) for at in np.flatnonzero(over).tolist()]

    @property
    def wrong(self) -> str:
        """Why the plan is not what was asked for, in a sentence; "" if it is."""
        compiled, now = self.compiled, self.present.state
        blocked = {point.device.id: point.phases for point in self.points}
        if ways := self.present.ways(blocked, {*self.present.question.agreed, *self.undecided}):
            return self._thrown_away(f"the limits would still be fed: {words(compiled, ways[0])}")
        for device in {**self.no_points, **self.closed}.keys() & self.present.question.shared.keys():
            return self._thrown_away(
                f"{device} is another's point too, and would be operated without one here"
            )
        claimed = {
            one
            for needs, premises in self.ground.served.items()
            if all(not self.choice.dead.isdisjoint(places) for places in needs)
            for one in premises
        }
        if claimed != self.newly.keys():
            return self._thrown_away("the trace finds other customers out than the plan")
        if ((self.after.codes == 0) & (now.codes != 0)).any():
            return self._thrown_away("it would energize what is not energized now")
        joined = parallels(self.after)
        if unlike := joined.beyond(parallels(now)).unlike:
            return self._thrown_away(unlike[0].words)
        for loop in joined.loops:
            if not self.closed.keys().isdisjoint(loop.devices):
                return self._thrown_away(loop.words)
        for kind, name in self.over:
            return self._thrown_away(f"{kind} {name} would carry more than it may")
        return ""

    def _thrown_away(self, why: str) -> str:
        names = ", ".join(point.device.id for point in self.points)
        return f"A plan with points {names} was thrown away when it was proved again: {why}."

    def plan(self) -> Plan:
        network, care, shared = self.compiled.network, self.present.care, self.present.question.shared
        moved = [
            Operation(network.device[name], phases, closes=False) for name, phases in self.no_points.items()
        ]
        moved += [
            Operation(network.device[name], phases, closes=True) for name, phases in self.closed.items()
        ]
        inside = {point for point, place in self.ground.place.items() if place in self.worked}
        return Plan(
            points=self.points,
            shared=tuple(shared[one.device.id] for one in self.points if one.device.id in shared),
            moved=tuple(moved),
            out=tuple(one for one, state in self.newly.items() if state.out),
            partly=tuple(one for one, state in self.newly.items() if not state.out),
            out_without_ties=len(self.present.newly_without(self.present.state_with(self.opened, {}))),
            life_support=tuple(one for one in self.newly if care[one] == "life_support"),
            critical=tuple(one for one in self.newly if care[one] == "critical"),
            used=tuple(self._used()),
            capacitors=tuple(
                one.id
                for one in network.capacitors
                if any(self.compiled.index[one.node, phase] in inside for phase in one.phases)
            ),
            price=self.choice.price,
            gap=self.choice.gap,
            proven=self.choice.proven,
        )

    def _used(self) -> list[Carried]:
        """The fullest of the lines and devices that would carry more than now, by amperes against rating."""
        loading, now = self.present.loading, self.present.carried
        fuller = np.flatnonzero((self.carried > now + ROUNDING) & np.isfinite(loading.limits))
        found = list(loading.amps(self.carried, fuller.tolist()))
        return sorted(found, key=lambda one: -one.amps / one.rating)[:_FULLEST]


def _by_device(units: Iterable[Unit]) -> dict[str, str]:
    found: dict[str, str] = {}
    for unit in units:
        found[unit.device.id] = letters({*found.get(unit.device.id, ""), *unit.phases})
    return found


def _side(ground: Ground, starts: Iterable[int], blocked: set[int]) -> set[int]:
    """The places that hang together with these groups, with every unit closed but the blocked ones."""
    beside: dict[int, list[int]] = {}
    for edge in ground.edges:
        if edge.unit not in blocked and ELSEWHERE not in (edge.a, edge.b):
            a, b = ground.group[edge.a], ground.group[edge.b]
            beside.setdefault(a, []).append(b)
            beside.setdefault(b, []).append(a)
    reached: set[int] = set()
    queue = deque(starts)
    while queue:
        here = queue.popleft()
        if here not in reached:
            reached.add(here)
            queue.extend(beside.get(here, ()))
    return {place for place, group in enumerate(ground.group) if group in reached}
