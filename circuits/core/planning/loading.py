"""What each line and device carries when every load draws its peak: sums along the ways of feed, no volts.

Where a peak is not known the size of the transformer stands for it, which is more than it draws.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
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
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
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
        self.drawn: Floats = np.zeros(len(compiled.points))
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
        switches = (Link("device", switch.device.id, *switch.ends) for switch in self.compiled.switches)
        return (*self.compiled.inner, *switches)

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        ends = [(link.start, link.end) for link in self.links]
        return np.array(ends, dtype=np.int64).reshape(-1, 2)

    @cached_property
    def _stations(self) -> list[int]:
        return [point for source, point in chain(*self.compiled.sources_at.values()) if source.is_station]

    @cached_property
    def kv(self) -> Floats:
        """Line to neutral, kV, of each link."""
        nominal = {node.id: node.nominal_kv / sqrt(3) for node in self.compiled.network.nodes}
        of_point = np.array([nominal[node] for node, _ in self.compiled.points])
        return of_point[self._ends[:, 0]]

    @cached_property
    def limits(self) -> Floats:
        """What each link may carry, kVA on its phase; inf where that is not known."""
        amps = self.ratings.amps
        return np.array([amps.get((link.kind, link.id), inf) for link in self.links]) * self.kv

    def carried(self, state: Trace) -> Floats:
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
        a, b = ends[:, 0], ends[:, 1]
        child = np.where(before[b] == a, b, np.where(before[a] == b, a, -1))
        numbers = np.flatnonzero(conducts)
        children, first = np.unique(child, return_index=True)
        tree = children >= 0
        found = np.zeros(len(self.links))
        found[numbers[first[tree]]] = np.array(below)[children[tree]]
        others = before[a] >= 0
        others[first[tree]] = False
        if others.any():
            of_child = dict(zip(children[tree].tolist(), numbers[first[tree]].tolist(), strict=True))
            for number in numbers[others].tolist():
                self._all_one_way(number, up, below, of_child, found)
        return found

    def _behind_banks(self, state: Trace) -> Iterator[int]:
        """The secondaries of whole banks: what they draw counts as the size of the bank at its primary."""
        for coupling in self.compiled.couplings:
            if coupling.secondary and all(state.codes[point] == 0 for point in coupling.primary):
                yield from coupling.secondary

    def _all_one_way(
        self, number: int, up: list[int], below: list[float], of_child: dict[int, int], found: Floats
    ) -> None:
        """A link that closes a loop: it and all on the loop carry what hangs on both sides."""
        link = self.links[number]
        sides = [_to_the_root(link.start, up), _to_the_root(link.end, up)]
        while len(sides[0]) > 1 and len(sides[1]) > 1 and sides[0][-2:] == sides[1][-2:]:
            for side in sides:
                side.pop()
        ring = [point for side in sides for point in side[:-1]]
        total = sum(below[side[-2]] for side in sides if len(side) > 1)
        for one in (number, *(of_child[point] for point in ring if point in of_child)):
            found[one] = max(found[one], total)

    def amps(self, carried: Floats, numbers: Iterable[int]) -> Iterator[Carried]:
        """Some of the links, by their numbers, as they are said."""
        for number in numbers:
            link, kv = self.links[number], float(self.kv[number])
            phase = self.compiled.points[link.start][1]
            limit = float(self.limits[number])
            yield Carried(link.kind, link.id, phase, float(carried[number]) / kv, limit / kv)


@lru_cache(maxsize=1)
def loading(compiled: Compiled, ratings: Ratings) -> Loading:
    """The same, kept for the last network and ratings that were asked for."""
    return Loading(compiled, ratings)


def _to_the_root(point: int, up: list[int]) -> list[int]:
    way = [point]
    while up[way[-1]] >= 0:
        way.append(up[way[-1]])
    return way
