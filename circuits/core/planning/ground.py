"""The places of a plan, made from the sections round the limits (see `graph`)."""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import chain

import numpy as np

from circuits.core.couplings import Coupling
from circuits.core.joining import join
from circuits.core.loops import loops
from circuits.core.planning.graph import ELSEWHERE, Asked, Bank, Edge, Ground, Unit
from circuits.core.values import PHASES

# Through how many open ties the search goes from the limits: in trials two kept every optimum, one did not.
TIES_AWAY = 2
_CUSTOMERS_OWN = ("service_disconnect", "transfer_switch")


def ground(asked: Asked) -> Ground:
    """Cost: a search of the sections up to two ties away, and a few passes over what it finds."""
    return _Builder(asked).ground()


class _Builder:
    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self.compiled, self.state = asked.compiled, asked.state
        self.graph = asked.compiled.graph
        self.reach = self._reach()
        self.parts = self._parted()
        self.cell = self._cells()
        self.units = tuple(self._units())
        self.couplings = [
            self.compiled.couplings[number]
            for number in sorted({one for section in self.reach for one in self.graph.couplings[section]})
            if set(self.compiled.couplings[number].members) <= self.cell.keys()
        ]
        self.sources = [
            (source, point)
            for section in self.reach
            for source, point in self.compiled.sources_at.get(section, ())
            if source.is_station or not (source.interlocked or source.id in asked.agreed)
        ]
        network = self.compiled.network
        self.crossed = [
            point
            for node in asked.not_crossed
            for phase in network.node[node].phases
            if (point := self.compiled.index[node, phase]) in self.cell
        ]
        self.place = self._places()

    def _reach(self) -> list[int]:
        """The sections up to two ties from the limits; beyond a station lies nothing that matters."""
        closed, graph = self.state.is_closed, self.graph
        reached: set[int] = set()
        edge = deque(int(self.compiled.section[point]) for point in self.asked.limits)
        for _ in range(TIES_AWAY + 1):
            beyond: deque[int] = deque()
            while edge:
                here = edge.popleft()
                if here in reached:
                    continue
                reached.add(here)
                if here not in graph.stations:
                    for switch, there in graph.ways[here]:
                        (edge if closed[switch] else beyond).append(there)
                        edge.extend(self._beside(switch, here))
                    for number in graph.couplings[here]:
                        edge.extend(graph.members[number])
            edge = beyond
        return sorted(reached)

    def _beside(self, switch: int, here: int) -> Iterator[int]:
        """The sections of the other phases of a device on the same side: one handle may move them all."""
        device = self.compiled.switches[switch].device
        side = self.graph.ends[switch].index(here)
        for other in self.compiled.numbers([(device.id, device.phases)]):
            yield self.graph.ends[other][side]

    def _parted(self) -> list[int]:
        """The inner links whose two ends are to be places of their own."""
        crossed = set(self.asked.not_crossed)
        parted = self.asked.parted | {
            ("line", line.id)
            for line in self.compiled.network.lines
            if crossed and not crossed.isdisjoint((line.from_node, line.to_node))
        }
        if not parted:
            return []
        return [at for at, link in enumerate(self.compiled.inner) if (link.kind, link.id) in parted]

    def _cells(self) -> dict[int, int]:
        """Node-phase -> its section, or the part of it that hangs together without what is parted."""
        compiled = self.compiled
        within = np.flatnonzero(np.isin(compiled.section, self.reach))
        cell = dict(zip(within.tolist(), compiled.section[within].tolist(), strict=True))
        links = [compiled.inner[at] for at in self.parts]
        parted = {(link.kind, link.id) for link in links}
        number = compiled.sections
        done: set[int] = set()
        for start in [end for link in links for end in (link.start, link.end) if end in cell]:
            queue = deque([start])
            while queue:
                here = queue.popleft()
                if here not in done:
                    done.add(here)
                    cell[here] = number
                    inside = compiled.inside[here]
                    queue.extend(link.end for link in inside if (link.kind, link.id) not in parted)
            number += 1
        return cell

    def _units(self) -> Iterator[Unit]:
        closed, switches = self.state.is_closed, self.compiled.switches
        met = {switch for section in self.reach for switch, _ in self.graph.ways[section]}
        names = {switches[one].device.id for one in met}
        for name in sorted(names, key=self.compiled.device_order.__getitem__):
            device = self.compiled.network.device[name]
            numbers = tuple(self.compiled.numbers([(name, device.phases)]))
            single = self.asked.by_phase and device.operation == "single"
            for together in [(one,) for one in numbers] if single else [numbers]:
                phases = "".join(switches[one].phase for one in together)
                any_closed = any(closed[one] for one in together)
                kept, shared = name in self.asked.kept, name in self.asked.shared
                yield Unit(
                    device=device,
                    phases=phases,
                    switches=together,
                    closed=any_closed,
                    usable=not (any_closed and kept),
                    tie=not (any_closed or kept or shared)
                    and set(phases).isdisjoint(device.closed)
                    and device.kind not in _CUSTOMERS_OWN
                    and all(self._joins_like_phases(one) for one in together),
                    shared=shared,
                )

    def _joins_like_phases(self, switch: int) -> bool:
        a, b = self.compiled.switches[switch].ends
        return self.compiled.points[a][1] == self.compiled.points[b][1]

    def _places(self) -> dict[int, int]:
        """The place of each node-phase: each leaf is merged with what it hangs on, as long as there are
        any."""
        cell = self.cell
        coupled = [{cell[point] for point in one.members} for one in self.couplings]
        at_sources = [point for _, point in self.sources]
        pinned = {cell[point] for point in (*self.asked.limits, *self.crossed, *at_sources)}
        pinned.update(*(cells for cells in coupled if len(cells) > 1))
        links = [self.compiled.inner[at] for at in self.parts]
        pinned |= {cell[end] for link in links for end in (link.start, link.end) if end in cell}
        ends = [[self._ends(one, cell) for one in unit.switches] for unit in self.units]
        at: dict[int, set[int]] = {ELSEWHERE: {ELSEWHERE}}
        for number, pairs in enumerate(ends):
            for here in chain(*pairs):
                at.setdefault(here, set()).add(number)
        stem_of: dict[int, int] = {}

        def stem(here: int) -> int:
            while here in stem_of:
                here = stem_of[here]
            return here

        queue = deque(number for number, unit in enumerate(self.units) if unit.closed and self.asked.merged)
        while queue:
            number = queue.popleft()
            leaves: dict[int, int] = {}
            for a, b in ends[number]:
                for leaf, other in ((stem(a), stem(b)), (stem(b), stem(a))):
                    if leaf != other and at[leaf] == {number} and leaf not in pinned:
                        leaves[leaf] = other
                        break
            switches = self.units[number].switches
            if len(leaves) == len(switches) and all(self.state.is_closed[one] for one in switches):
                stem_of.update(leaves)
                for other in set(leaves.values()):
                    at[other].discard(number)
                    queue.extend(sorted(one for one in at[other] if self.units[one].closed))
        numbered = {here: place for place, here in enumerate(sorted({stem(here) for here in cell.values()}))}
        return {point: numbered[stem(here)] for point, here in cell.items()}

    def _ends(self, switch: int, place: Mapping[int, int]) -> tuple[int, int]:
        a, b = self.compiled.switches[switch].ends
        return place.get(a, ELSEWHERE), place.get(b, ELSEWHERE)

    def ground(self) -> Ground:
        place, codes = self.place, self.state.codes
        live = frozenset(here for point, here in place.items() if codes[point] == 0)
        stations = frozenset(place[point] for source, point in self.sources if source.is_station)
        edges, banks = self._marked(list(self._edges()), list(self._banks()))
        group = self._groups(edges)
        machines: dict[int, tuple[str, ...]] = {}
        for source, point in self.sources:
            if not source.is_station:
                here = group[place[point]]
                machines[here] = tuple(dict.fromkeys((*machines.get(here, ()), source.id)))
        crossed = {place[point] for point in self.crossed}
        return Ground(
            units=tuple(
                replace(unit, tie=unit.tie and all(self._is_between(one) for one in unit.switches))
                for unit in self.units
            ),
            edges=tuple(edges),
            banks=tuple(banks),
            place=place,
            live=live,
            stations=stations,
            group=group,
            inside=frozenset(group[place[point]] for point in self.asked.limits),
            fed=frozenset(group[here] for here in stations),
            machines=machines,
            crossed={here: _fed_over(here, edges, banks, stations, live) for here in sorted(crossed)},
            served=self._served(live, stations),
        )

    def _is_between(self, switch: int) -> bool:
        """Whether it is between two places; one that is not would close a loop, or lies too far away."""
        a, b = self._ends(switch, self.place)
        return a != b and ELSEWHERE not in (a, b)

    def _edges(self) -> Iterator[Edge]:
        closed, inner = self.state.is_closed, self.compiled.inner
        for number, unit in enumerate(self.units):
            for one in unit.switches:
                a, b = self._ends(one, self.place)
                if a != b:
                    yield Edge(number, a, b, closed[one], len(inner) + one, ringed=False)
        for at in self.parts:
            if inner[at].start in self.place:
                a, b = self.place[inner[at].start], self.place[inner[at].end]
                if a != b:
                    yield Edge(ELSEWHERE, a, b, True, at, ringed=False)

    def _banks(self) -> Iterator[tuple[Coupling, Bank]]:
        for one in self.couplings:
            if one.secondary:
                primary, secondary = (
                    tuple(dict.fromkeys(self.place[point] for point in side))
                    for side in (one.primary, one.secondary)
                )
                yield one, Bank(primary, secondary, ringed=False)

    def _marked(self, edges: list[Edge], banks: list[tuple[Coupling, Bank]]) -> tuple[list[Edge], list[Bank]]:
        """The same, with what lies in a loop by now; stations are joined phase by phase, banks winding by
        winding, as `circuits.core.parallels` has it."""
        ends: list[tuple[int, int]] = []
        whose: list[int] = []
        for number, edge in enumerate(edges):
            if edge.closed and ELSEWHERE not in (edge.a, edge.b):
                ends.append((edge.a, edge.b))
                whose.append(number)
        for number, (coupling, _) in enumerate(banks, start=len(edges)):
            for pair in self._windings(coupling):
                ends.append(pair)
                whose.append(number)
        count = max(self.place.values()) + 1
        ends += sorted(self._buses(count))
        found = loops(count + len(PHASES), np.array(ends, dtype=np.int64))
        ringed = {whose[at] for ring, _ in found for at in ring if at < len(whose)}
        return (
            [replace(one, ringed=at in ringed) for at, one in enumerate(edges)],
            [replace(one, ringed=at in ringed) for at, (_, one) in enumerate(banks, start=len(edges))],
        )

    def _windings(self, coupling: Coupling) -> Iterator[tuple[int, int]]:
        points = self.compiled.points
        primary = {points[point][1]: self.place[point] for point in coupling.primary}
        for point in coupling.secondary:
            if points[point][1] in primary:
                yield primary[points[point][1]], self.place[point]

    def _buses(self, count: int) -> set[tuple[int, int]]:
        return {
            (self.place[point], count + PHASES.index(self.compiled.points[point][1]))
            for source, point in self.sources
            if source.is_station
        }

    def _groups(self, edges: list[Edge]) -> tuple[int, ...]:
        fixed = (edge for edge in edges if edge.unit < 0 or not self.units[edge.unit].usable)
        pairs = [(edge.a, edge.b) for edge in fixed if ELSEWHERE not in (edge.a, edge.b)]
        for one in self.couplings:
            first, *others = (self.place[point] for point in one.members)
            pairs += [(first, other) for other in others]
        _, part = join(max(self.place.values()) + 1, np.array(pairs, dtype=np.int64))
        return tuple(part.tolist())

    def _served(
        self, live: frozenset[int], stations: frozenset[int]
    ) -> dict[tuple[tuple[int, ...], ...], tuple[str, ...]]:
        """The premises energized now, by the places of which they need one set whole."""
        compiled, graph = self.compiled, self.graph
        found: dict[tuple[tuple[int, ...], ...], tuple[str, ...]] = {}
        for number in sorted({one for section in self.reach for one in graph.services_at[section]}):
            service = graph.services[number]
            needs: set[tuple[int, ...]] = set()
            for transformer, phases in service.served:
                points = [compiled.index[transformer.secondary_node, phase] for phase in phases]
                if all(self.state.codes[point] == 0 for point in points):
                    here = {self.place[point] for point in points if point in self.place}
                    needs.add(tuple(sorted(here - stations)))
            if needs and () not in needs:
                key = tuple(sorted(needs))
                found[key] = (*found.get(key, ()), *service.premises)
        return found


def _fed_over(
    crossed: int, edges: list[Edge], banks: list[Bank], stations: frozenset[int], live: frozenset[int]
) -> frozenset[int]:
    """The energized places that nothing would feed if this one were taken out now."""
    beside: dict[int, list[int]] = {}
    pairs = [(edge.a, edge.b) for edge in edges if edge.closed]
    pairs += [(a, b) for bank in banks for a in bank.primary for b in bank.secondary]
    for a, b in pairs:
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    reached = {crossed, ELSEWHERE}
    queue = deque(stations - reached)
    while queue:
        here = queue.popleft()
        if here not in reached:
            reached.add(here)
            queue.extend(beside.get(here, ()))
    return live - reached
