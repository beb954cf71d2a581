"""Which edges of a graph lie on loops, and which loops are one."""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import breadth_first_order

from circuits.core.joining import Ints, join


def loops(count: int, ends: Ints, gains: Ints | None = None) -> list[tuple[set[int], bool]]:
    """The loops among `count` points joined by edges (`ends`, shape (edges, 2)): the numbers of the edges of
    each, and whether the gains round it differ from zero (modulo 12).

    Loops that have an edge in common are one, so that every edge of a loop lies on some way round that passes
    each point once: a biconnected component. `gains` has for each edge what is gained along it from its first
    end to its second. Cost: two scipy searches, and a walk along each independent loop; without any loop one
    search.

    >>> edges = np.array([[0, 1], [1, 2], [2, 0], [2, 3], [3, 4], [4, 3]])
    >>> loops(5, edges)
    [({0, 1, 2}, False), ({4, 5}, False)]
    >>> loops(2, np.array([[0, 1], [0, 1]]), np.array([1, 0]))
    [({0, 1}, True)]
    """
    ends = ends.reshape(-1, 2)
    parts, part = join(count, ends)
    if len(ends) == count - parts:
        return []
    parent = _forest(count, ends, part)
    edge_up = np.full(count, -1, dtype=np.int64)
    a, b = ends[:, 0], ends[:, 1]
    child = np.where(parent[a] == b, a, np.where(parent[b] == a, b, -1))
    children, edges = np.unique(child, return_index=True)
    edge_up[children[children >= 0]] = edges[children >= 0]
    in_forest = np.zeros(len(ends), dtype=np.bool_)
    in_forest[edge_up[edge_up >= 0]] = True
    walk = _Walk(parent.tolist(), edge_up.tolist(), ends, gains.tolist() if gains is not None else [])
    found: list[tuple[set[int], bool]] = []
    loop_of: dict[int, int] = {}  # an edge -> its place in `found`
    for edge in np.flatnonzero(~in_forest).tolist():
        ring, gain = walk.round(edge)
        turned = gain % 12 != 0
        for place in {loop_of[other] for other in ring if other in loop_of}:
            ring |= found[place][0]
            turned |= found[place][1]
            found[place] = set(), False
        loop_of.update(dict.fromkeys(ring, len(found)))
        found.append((ring, turned))
    return [one for one in found if one[0]]


def _forest(count: int, ends: Ints, part: Ints) -> Ints:
    """The point before each in a search by breadth from one point of every part; `count` for those."""
    _, roots = np.unique(part, return_index=True)
    a = np.concatenate([ends[:, 0], roots])
    b = np.concatenate([ends[:, 1], np.full(len(roots), count)])
    graph = coo_array((np.ones(len(a), dtype=np.bool_), (a, b)), shape=(count + 1, count + 1)).tocsr()
    parent: Ints = breadth_first_order(graph, count, directed=False)[1].astype(np.int64)
    return parent


class _Walk:
    def __init__(self, parent: list[int], edge_up: list[int], ends: Ints, gains: list[int]) -> None:
        self.parent = parent
        self.edge_up = edge_up
        self.ends = ends
        self.gains = gains

    def round(self, edge: int) -> tuple[set[int], int]:
        """The edges of the loop that an edge closes in the forest, and what is gained once round."""
        start, end = self.ends[edge].tolist()
        there, back = self._up(end), self._up(start)
        while there and back and there[-1] == back[-1]:
            there.pop()
            back.pop()
        gain = 0
        if self.gains:
            gain = self.gains[edge] + self._gained(end, there) - self._gained(start, back)
        return {edge, *there, *back}, gain

    def _up(self, point: int) -> list[int]:
        way = []
        while (edge := self.edge_up[point]) >= 0:
            way.append(edge)
            point = self.parent[point]
        return way

    def _gained(self, point: int, way: list[int]) -> int:
        gained = 0
        for edge in way:
            gained += self.gains[edge] if self.ends[edge, 0] == point else -self.gains[edge]
            point = self.parent[point]
        return gained
