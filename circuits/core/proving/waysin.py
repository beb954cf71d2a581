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
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from circuits.core.network import Compiled
from circuits.core.proving.outward import IN_A_SERVICE, NOT_KNOWN, POINT
from circuits.core.ways import Filling, Way


class Reach(IntEnum):
    """The worst thing on a way: nothing but what stands closed, what is not known, a tagged point."""

    AS_REPORTED = 0
    NOT_KNOWN = 1
    PAST_A_POINT = 2


class Near(NamedTuple):
    """Where a source is: its node-phase `start` in a section, and the `gate` by which its nearest way comes
    into the limits or over the last point before them: a device, else the section before a coupling."""

    reach: Reach
    source: str
    start: int
    section: int
    gate: str | int


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
        """The crossing that a way takes between two sections."""
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


def _reach(far: float) -> Reach:
    if far >= POINT:
        return Reach.PAST_A_POINT
    return Reach.NOT_KNOWN if far >= NOT_KNOWN else Reach.AS_REPORTED


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
    def nearest(self) -> tuple[Near, ...]:
        """Every source with any way to the limits, by its best one, the nearest source first."""
        far: list[float] = self._far.tolist()
        found: dict[str, tuple[float, int, int]] = {}
        for section, sources in self.reports.compiled.sources_at.items():
            if far[section] < np.inf:
                for source, start in sources:
                    here = far[section], section, start
                    if source.id not in found or here < found[source.id]:
                        found[source.id] = here
        return tuple(
            Near(_reach(how_far), source, start, section, self._gate(section))
            for source, (how_far, section, start) in sorted(found.items(), key=lambda item: item[1])
        )

    def _gate(self, section: int) -> str | int:
        here = self._gates[section]
        number = -1 if here in self.work else self._over_gate[here]
        return self.reports.compiled.switches[number].device.id if number >= 0 else here

    @cached_property
    def _over_gate(self) -> dict[int, int]:
        """Gate -> the crossing there."""
        gates = {self._gates[section] for section in self.reports.compiled.sources_at}
        return {
            here: self.reports.between(here, int(self._toward[here]))
            for here in gates
            if self._toward[here] >= 0
        }

    def way(self, near: Near) -> WayIn:
        """The way of a source."""
        sections = tuple(self._back(near.section))
        return WayIn(near.reach, near.source, near.start, sections, self.reports.along(sections))

    def others(self) -> Iterator[WayIn]:
        """For each device next to the limits and each point that the nearest ways don't come in over, the
        nearest way over it that does not come back to the limits, if there is any."""
        switches = self.reports.compiled.switches
        used = {near.gate for near in self.nearest}
        for number, here, beyond in self._edge():
            device = switches[number].device.id
            if device not in used:
                ways = list(self._over(number, here, beyond))
                used.update(device for _ in ways)
                yield from ways

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
    def _gates(self) -> list[int]:
        """For each section the gate on its way: halfway steps are doubled until all have come to one."""
        here = np.arange(len(self._far))
        toward = np.where(self._toward < 0, here, self._toward).astype(np.int64)
        over = (self._far >= POINT) != (self._far[toward] >= POINT)
        at_work = np.isin(toward, list(self.work))
        step = np.where(over | at_work, here, toward)
        while not np.array_equal(further := step[step], step):
            step = further
        gates: list[int] = step.tolist()
        return gates

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
