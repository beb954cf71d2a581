"""The sections as a graph with weights, for the search of ways from a source to the limits."""

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_array

from circuits.core.joining import Ints
from circuits.core.proving.origins import Origins

if TYPE_CHECKING:
    from circuits.core.network import Compiled

# What only the customer can see: whether a motor holds voltage, how a service goes over to its second feed.
IN_A_SERVICE = frozenset({"customer", "second feed"})

# What a crossing weighs: fewest points first, then fewest of what is not known, then fewest crossings. A way
# has no more than a thousand points and a million of the others, so that the sum is exact.
NOT_KNOWN = 1e6
POINT = 1e12


class Outward:
    """The sections and all that leads from one to another, as the arrays that a shortest-path search wants.

    Cost: one pass over the switches and couplings; keep it with the compiled network.
    """

    def __init__(self, compiled: "Compiled") -> None:
        graph = compiled.graph
        pairs = [
            (a, b)
            for members in graph.members
            for place, a in enumerate(members)
            for b in members[place + 1 :]
        ]
        in_a_service = np.array(
            [
                coupling.kind in IN_A_SERVICE
                for coupling, members in zip(compiled.couplings, graph.members, strict=True)
                for _ in range(len(members) * (len(members) - 1) // 2)
            ],
            dtype=np.bool_,
        )
        switches = compiled.switch_ends
        ends = np.vstack([switches, np.array(pairs, dtype=np.int64).reshape(-1, 2)])
        start, end = np.concatenate([ends, ends[:, ::-1]]).T
        order = np.argsort(start, kind="stable")
        weight = np.ones(len(ends))
        weight[len(switches) :][in_a_service] += NOT_KNOWN
        self._weight = np.concatenate([weight, weight])[order]
        self._beyond = end[order].astype(np.int32)
        self._first = np.searchsorted(start[order], np.arange(compiled.sections + 1)).astype(np.int32)
        # Where the two directions of each switch stand in these arrays.
        place = np.argsort(order, kind="stable")
        self._place = np.stack([place[: len(switches)], place[len(ends) : len(ends) + len(switches)]])
        self._sections = compiled.sections
        self._compiled = compiled

    @cached_property
    def origins(self) -> Origins:
        return Origins(self._compiled)

    def weighed(self, opened: Ints, points: Ints) -> csr_array:
        """The graph with what these switches weigh; a point is open too."""
        weight = self._weight.copy()
        weight[self._place[:, opened]] = 1 + NOT_KNOWN
        weight[self._place[:, points]] = 1 + POINT
        return csr_array((weight, self._beyond, self._first), shape=(self._sections, self._sections))
