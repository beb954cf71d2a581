"""Every way from a source to one phase of some limits, the nearest first.

A way is as bad as the worst thing on it. So the search goes outward from the limits over the sections and
crosses what stands closed before what is not known (it is reported open but is no tagged point, or lies
inside a customer's service), and that before a tagged point.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from itertools import pairwise
from math import inf

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from circuits.core.joining import Ints
from circuits.core.network import Compiled
from circuits.core.proving.outward import IN_A_SERVICE, NOT_KNOWN, POINT
from circuits.core.ways import Filling, Way


class Reach(IntEnum):
    """The worst thing on a way: nothing but what stands closed, what is not known, a tagged point."""

    AS_REPORTED = 0
    NOT_KNOWN = 1
    PAST_A_POINT = 2


@dataclass(frozen=True, slots=True)
class Nearest:
    """The sources with any way to the limits, each by its best one, the nearest first, as arrays: which of
    the network's sources it is, its node-phase `start` in a `section`, how far it reaches, and the gate by
    which its way comes into the limits or over the last point before them, as a place in `gates`: a device,
    else the section before a coupling."""

    source: Ints
    start: Ints
    section: Ints
    reach: Ints
    gate: Ints
    gates: tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class WayIn:
    """A way from a source: `sections` are those it goes through, from the source's to one of the limits',
    `crossed` the numbers of what leads from each to the next."""

    reach: Reach
    source: str
    start: int
    sections: tuple[int, ...]
    crossed: tuple[int, ...]


@dataclass(frozen=True)
class Reports:
    """A network with what is reported of it, for the search: `opened` and `points` are switches."""

    compiled: Compiled
    opened: frozenset[int]
    points: frozenset[int]

    @cached_property
    def graph(self) -> csr_array:
        opened, points = (np.array(sorted(found), dtype=np.int64) for found in (self.opened, self.points))
        return self.compiled.outward.weighed(opened, points)

    def needs(self, number: int) -> Reach:
        """How bad a crossing is: the number of a switch, or -1 - the number of a coupling."""
        if number < 0:
            in_a_service = self.compiled.couplings[-1 - number].kind in IN_A_SERVICE
            return Reach.NOT_KNOWN if in_a_service else Reach.AS_REPORTED
        if number in self.points:
            return Reach.PAST_A_POINT
        return Reach.NOT_KNOWN if number in self.opened else Reach.AS_REPORTED

    def between(self, start: int, end: int) -> int:
        """The crossing that a way takes between two sections, a device rather than a coupling as bad."""
        found = (number for number, beyond in self.compiled.graph.out_of(start) if beyond == end)
        return min(found, key=lambda number: (self.needs(number), number < 0))

    def along(self, sections: tuple[int, ...]) -> tuple[int, ...]:
        """The crossings of a way through some sections."""
        return tuple(self.between(a, b) for a, b in pairwise(sections))

    @cached_property
    def _filling(self) -> Filling:
        return Filling(self.compiled)

    def filled(self, way: WayIn, goals: frozenset[int]) -> Way:
        """A way with what lies within its sections, to the nearest of the goals, which are node-phases."""
        crossed = zip(way.crossed, way.sections[1:], strict=True)
        return self._filling.way(self.compiled.network.source[way.source], way.start, crossed, goals)


class WaysIn:
    """The search for one phase of limits: `work` are its sections, `limits` those of all its phases.

    Cost: one scipy shortest-path search of the sections, and a short one for each device next to the limits
    and each point that no way uses.
    """

    def __init__(self, reports: Reports, work: frozenset[int], limits: frozenset[int]) -> None:
        self.reports = reports
        self.work = work
        self.limits = limits
        self._far, self._toward, _ = dijkstra(
            reports.graph, indices=sorted(work), min_only=True, return_predecessors=True
        )

    @cached_property
    def nearest(self) -> Nearest:
        """Every source with any way to the limits."""
        at = self.reports.compiled.outward.origins
        far = self._far[at.section]
        reaching = np.flatnonzero(far < np.inf)
        # Of a source that is at two places the nearer; of two sources at one place that which is named first.
        _, first, which = np.unique(at.source[reaching], return_index=True, return_inverse=True)
        order = reaching[np.lexsort((first[which], at.start[reaching], at.section[reaching], far[reaching]))]
        _, first = np.unique(at.source[order], return_index=True)
        best = order[np.sort(first)]
        here, gate = np.unique(self._gates[at.section[best]], return_inverse=True)
        gates = [self._named(section) for section in here.tolist()]
        place = {name: number for number, name in enumerate(dict.fromkeys(gates))}
        far = far[best]
        return Nearest(
            source=at.source[best],
            start=at.start[best],
            section=at.section[best],
            reach=np.where(far >= POINT, Reach.PAST_A_POINT, np.where(far >= NOT_KNOWN, Reach.NOT_KNOWN, 0)),
            gate=np.array([place[name] for name in gates], dtype=np.int64)[gate],
            gates=tuple(place),
        )

    def _named(self, gate: int) -> str | int:
        """The device that a gate leads over, else itself."""
        if gate in self.work:
            return gate
        number = self.reports.between(gate, int(self._toward[gate]))
        return self.reports.compiled.switches[number].device.id if number >= 0 else gate

    def way(self, place: int) -> WayIn:
        """The way of one of the nearest."""
        near = self.nearest
        source = self.reports.compiled.network.sources[near.source[place]]
        sections = tuple(self._back(int(near.section[place])))
        crossed = self.reports.along(sections)
        return WayIn(Reach(near.reach[place]), source.id, int(near.start[place]), sections, crossed)

    def others(self) -> Iterator[WayIn]:
        """For each device next to the limits and each point the nearest way over it that does not come back
        to the limits, if there is any, and if no nearest way that is as bad comes in over it."""
        points, switches = self.reports.points, self.reports.compiled.switches
        near = self.nearest
        # A device may be a point on some of its phases only.
        told: dict[tuple[str | int, bool], float] = {}
        for number, reach in np.unique(np.stack((near.gate, near.reach)), axis=1).T.tolist():
            gate = near.gates[number], reach == Reach.PAST_A_POINT
            told[gate] = min(reach, told.get(gate, inf))
        for number, here, beyond in self._edge():
            gate = switches[number].device.id, number in points
            if self.reports.needs(number) < told.get(gate, inf):
                for way in self._over(number, here, beyond):
                    if way.reach < told.get(gate, inf):
                        told[gate] = way.reach
                        yield way

    def _edge(self) -> Iterator[tuple[int, int, int]]:
        """The switches next to the limits and the points: each with the section on this side, and beyond."""
        graph = self.reports.compiled.graph
        for section in sorted(self.work):
            for number, beyond in graph.ways[section]:
                if number not in self.reports.points:
                    yield number, section, beyond
        far = self._far
        points = {
            number: sorted(graph.ends[number], key=lambda section: float(far[section]))
            for number in sorted(self.reports.points)
        }
        for number, (here, beyond) in sorted(points.items(), key=lambda item: float(far[item[1][0]])):
            if far[here] < POINT:
                yield number, here, beyond

    @cached_property
    def _gates(self) -> Ints:
        """For each section the gate on its way: halfway steps are doubled until all have come to one."""
        here = np.arange(len(self._far))
        toward = np.where(self._toward < 0, here, self._toward).astype(np.int64)
        over = (self._far >= POINT) != (self._far[toward] >= POINT)
        at_work = np.zeros(len(here), dtype=np.bool_)
        at_work[list(self.work)] = True
        step: Ints = np.where(over | at_work[toward], here, toward)
        while not np.array_equal(further := step[step], step):
            step = further
        return step

    def _back(self, section: int) -> Iterator[int]:
        while section >= 0:
            yield section
            section = int(self._toward[section])

    def _over(self, number: int, here: int, beyond: int) -> Iterator[WayIn]:
        tail = tuple(self._back(here))
        avoid = self.limits.union(tail)
        if beyond in avoid:
            return
        outside = bool(self._far[beyond] >= POINT)
        came: dict[int, int] = {beyond: here}
        queue = deque([beyond])
        later: list[tuple[int, int]] = []
        first = self.reports.needs(number)
        for reach in sorted({first, max(first, Reach.NOT_KNOWN)}):
            for there, nearer in later:
                if there not in came:
                    came[there] = nearer
                    queue.append(there)
            while queue:
                section = queue.popleft()
                if sources := self.reports.compiled.sources_at.get(section):
                    source, start = sources[0]
                    before = [section]
                    while section != beyond:
                        section = came[section]
                        before.append(section)
                    along = self.reports.along
                    crossed = (*along(tuple(before)), number, *along(tail))
                    yield WayIn(reach, source.id, start, (*before, *tail), crossed)
                    return
                for crossing, there in self.reports.compiled.graph.out_of(section):
                    needs = self.reports.needs(crossing)
                    if there in avoid or there in came or (outside and self._far[there] < POINT):
                        continue
                    if needs <= reach:
                        came[there] = section
                        queue.append(there)
                    elif needs is Reach.NOT_KNOWN:
                        later.append((there, section))
