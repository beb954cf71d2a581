"""What each line and device carries when every load draws its peak: sums along the ways of feed, no volts.

Where a peak is not known the size of the transformer stands for it, which is more than it draws.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import breadth_first_order

from circuits.core.limits import SECONDARY_KV
from circuits.core.network import Compiled, Link
from circuits.core.trace import Trace

Thing = tuple[str, str]


@dataclass(frozen=True)
class Ratings:
    """What things may carry and what is drawn.

    `amps` has for ("line" or "device" or "regulator", id) the amperes a phase, and nothing for one whose
    rating is not known; `peaks` for ("transformer" or "load", id) its kVA at its peak.
    """

    amps: Mapping[Thing, float] = field(default_factory=dict)
    peaks: Mapping[Thing, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Carried:
    """The amperes of one phase of a line, regulator or device, and its rating; inf where that is not
    known."""

    kind: str
    id: str
    phase: str
    amps: float
    rating: float

    @property
    def words(self) -> str:
        """Such as "N-7 phase B 212 of 600 A"."""
        name = self.id if self.kind == "device" else f"{self.kind} {self.id}"
        return f"{name} phase {self.phase} {self.amps:.0f} of {self.rating:.0f} A"


class Loading:
    """The loads of a network, to be summed for any state. Cost: one pass over the rows."""

    def __init__(self, compiled: Compiled, ratings: Ratings) -> None:
        self.compiled = compiled
        self.ratings = ratings
        self.drawn: NDArray[np.float64] = np.zeros(len(compiled.points))
        """The kVA drawn at each node-phase."""
        network = compiled.network
        for one in network.transformers:
            # What a transformer that steps down to a further primary feeds is summed through it.
            if not one.joins or network.node[one.secondary_node].nominal_kv <= SECONDARY_KV:
                kva = ratings.peaks.get(("transformer", one.id), one.kva)
                self._draw(one.primary_node, one.phases, kva)
        for load in network.loads:
            if network.node[load.node].nominal_kv > SECONDARY_KV:
                self._draw(load.node, load.phases, ratings.peaks.get(("load", load.id), 0.0))

    def _draw(self, node: str, phases: str, kva: float) -> None:
        for phase in phases:
            self.drawn[self.compiled.index[node, phase]] += kva / len(phases)

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """All that may carry: the inner links of the sections, then the switches in their order."""
        switches = (
            Link("device", switch.device.id, *switch.ends, switch=number)
            for number, switch in enumerate(self.compiled.switches)
        )
        return (*self.compiled.inner, *switches)

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        ends = [(link.start, link.end) for link in self.links]
        return np.array(ends, dtype=np.int64).reshape(-1, 2)

    @cached_property
    def _stations(self) -> list[int]:
        return [point for source, point in chain(*self.compiled.sources_at.values()) if source.is_station]

    def limit(self, link: Link) -> float:
        """What a link may carry, kVA on its phase; inf where that is not known."""
        amps = self.ratings.amps.get((link.kind, link.id), inf)
        return amps * self._kv(link)

    def _kv(self, link: Link) -> float:
        """Line to neutral, kV."""
        return self.compiled.network.node[self.compiled.points[link.start][0]].nominal_kv / sqrt(3)

    def carried(self, state: Trace) -> list[float]:
        """The kVA through each of `links` in a state.

        Where a loop is closed, how it divides is not known: each of its links counts as if all came that
        way. Cost: a breadth-first search of the node-phases and one pass over them; a walk for each loop.
        """
        root = len(self.compiled.points)
        conducts = np.concatenate([np.ones(len(self.compiled.inner), dtype=np.bool_), state.closed])
        ends = self._ends[conducts]
        fed = np.array([*self._stations, *self._behind_banks(state)], dtype=np.int64)
        rows = np.concatenate([ends[:, 0], np.full(len(fed), root)])
        columns = np.concatenate([ends[:, 1], fed])
        graph = coo_array((np.ones(len(rows), dtype=np.bool_), (rows, columns)), (root + 1, root + 1))
        order, before = breadth_first_order(graph.tocsr(), root, directed=False)
        up: list[int] = before.tolist()
        below = [*self.drawn.tolist(), 0.0]
        for point in order[:0:-1].tolist():
            below[up[point]] += below[point]
        found = [0.0] * len(self.links)
        taken: set[int] = set()
        rings: list[int] = []
        for number in np.flatnonzero(conducts).tolist():
            a, b = self.links[number].start, self.links[number].end
            child = b if up[b] == a else a if up[a] == b else -1
            if child >= 0 and child not in taken:
                taken.add(child)
                found[number] = below[child]
            elif up[a] >= 0:
                rings.append(number)
        if rings:
            by_child = {self._child(number, up): number for number in np.flatnonzero(found).tolist()}
            for number in rings:
                self._all_one_way(number, up, below, by_child, found)
        return found

    def _behind_banks(self, state: Trace) -> Iterator[int]:
        """The secondaries of whole banks: what they draw counts as the size of the bank at its primary."""
        for coupling in self.compiled.couplings:
            if coupling.secondary and all(state.codes[point] == 0 for point in coupling.primary):
                yield from coupling.secondary

    def _child(self, number: int, up: list[int]) -> int:
        a, b = self.links[number].start, self.links[number].end
        return b if up[b] == a else a

    def _all_one_way(
        self, number: int, up: list[int], below: list[float], by_child: dict[int, int], found: list[float]
    ) -> None:
        """A link that closes a loop: it and all on the loop carry what hangs on both sides."""
        link = self.links[number]
        sides = [_to_the_root(link.start, up), _to_the_root(link.end, up)]
        while len(sides[0]) > 1 and len(sides[1]) > 1 and sides[0][-2:] == sides[1][-2:]:
            for side in sides:
                side.pop()
        ring = [point for side in sides for point in side[:-1]]
        total = sum(below[side[-2]] for side in sides if len(side) > 1)
        for one in (number, *(by_child[point] for point in ring if point in by_child)):
            found[one] = max(found[one], total)

    def amps(self, carried: list[float], numbers: Collection[int]) -> Iterator[Carried]:
        """Some of the links, by their numbers, as they are said."""
        for number in numbers:
            link = self.links[number]
            kv = self._kv(link)
            phase = self.compiled.points[link.start][1]
            yield Carried(link.kind, link.id, phase, carried[number] / kv, self.limit(link) / kv)


def _to_the_root(point: int, up: list[int]) -> list[int]:
    way = [point]
    while up[way[-1]] >= 0:
        way.append(up[way[-1]])
    return way
