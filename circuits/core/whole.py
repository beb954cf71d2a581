"""The section graph as arrays, for answers about the whole network at once.

`circuits.core.sections` has the same as plain lists, for searches of a few sections.
"""

from collections.abc import Sequence
from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from circuits.core.joining import Ints, join

if TYPE_CHECKING:
    from circuits.core.network import Compiled

Flags = NDArray[np.bool_]


class Groups:
    """Some sections for each of several things, none of them empty, in one array."""

    def __init__(self, groups: Sequence[Sequence[int]]) -> None:
        self.sections: Ints = np.fromiter(chain.from_iterable(groups), dtype=np.int64)
        self.sizes: Ints = np.array([len(group) for group in groups], dtype=np.int64)
        self.group: Ints = np.arange(len(groups)).repeat(self.sizes)
        self._starts: Ints = np.cumsum(self.sizes) - self.sizes

    def greatest(self, of_section: Ints) -> Ints:
        """For each group the greatest of what its sections have."""
        return self._reduced(np.maximum, of_section)

    def least(self, of_section: Ints) -> Ints:
        """For each group the least of what its sections have."""
        return self._reduced(np.minimum, of_section)

    def _reduced(self, choose: np.ufunc, of_section: Ints) -> Ints:
        # reduceat does not take an empty list of groups.
        values = of_section[self.sections]
        return choose.reduceat(values, self._starts) if len(self.sizes) else values


class Whole:
    """What the arrays of a compiled network hold for the trace.

    A *leaf* is a section with a single switch: most are transformers behind a cutout of their own. What they
    join is settled without a search, which leaves a graph of a few thousand sections.
    """

    def __init__(self, compiled: "Compiled") -> None:
        graph = compiled.graph
        self._sections = compiled.sections
        self._ends = compiled.switch_ends
        self.banks = [number for number, secondary in enumerate(graph.secondary) if secondary]
        self.primary = Groups([graph.primary[number] for number in self.banks])
        self.secondary = Groups([graph.secondary[number] for number in self.banks])
        self.members = Groups(graph.members)
        self.feeds = Groups([tuple(chain(*service.feeds)) for service in graph.services])
        self.stations: Ints = np.array(sorted(graph.stations), dtype=np.int64)
        self.machines: Ints = np.array(sorted(graph.machines), dtype=np.int64)

    @cached_property
    def _leaves(self) -> tuple[Flags, Ints, Ints]:
        """Which switches lead to a leaf, and the leaf and the stem of each."""
        degree = np.bincount(self._ends.ravel(), minlength=self._sections)
        far = degree[self._ends[:, 1]] == 1
        near = (degree[self._ends[:, 0]] == 1) & ~far
        leads = far | near
        turned = np.where(near[:, None], self._ends[:, ::-1], self._ends)[leads]
        return leads, turned[:, 1], turned[:, 0]

    @cached_property
    def _core(self) -> tuple[Ints, int]:
        """The number of each section among those that are no leaves, and how many these are."""
        is_leaf = np.zeros(self._sections, dtype=np.bool_)
        is_leaf[self._leaves[1]] = True
        return np.cumsum(~is_leaf) - 1, int(self._sections - is_leaf.sum())

    @cached_property
    def _core_ends(self) -> Ints:
        return self._core[0][self._ends[~self._leaves[0]]]

    def islands(self, closed: Flags) -> tuple[int, Ints]:
        """Join the sections through the switches that are closed: how many islands, and the one of each
        section. Cost: scipy connected components of what is no leaf."""
        leads, leaf, stem = self._leaves
        number, count = self._core
        islands, part = join(count, self._core_ends[closed[~leads]])
        island = part[number]
        joined = closed[leads]
        island[leaf] = island[stem]
        alone = leaf[~joined]
        island[alone] = islands + np.arange(len(alone))
        return islands + len(alone), island
