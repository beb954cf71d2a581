"""How many opens stand between a source and the work: how many wrong pole numbers away it is.

A way into the limits is as strong as the opens in a row on it, and the work is as well parted from a source
as its weakest way. So this is no minimum cut: two cutouts that stand open side by side, each with a way of
its own, are one open, because either of them closed by mistake lets the source in.
"""

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from functools import cached_property

import numpy as np

from circuits.core.joining import Ints, join
from circuits.core.network import Compiled
from circuits.core.standing import also_open

# A device with the islands that one operation of it joins to another.
Joint = tuple[str, frozenset[int]]

NEVER = np.iinfo(np.int64).max


class Opened:
    """The phases of devices that are reported open, and what still hangs together with them open.

    `phases` is device id -> letters. A coupling joins whatever it couples. Raises ValueError for a device or
    a phase that is not there. Cost: one scipy connected components, when the first depth is asked for; keep
    it for all clearances that are looked at on the same reports.

    >>> from circuits.core.network import Device, Network, Node, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("span", "A"), Node("tap", "A")),
    ...     devices=(Device("J-1", "main", "span", "A", ""), Device("C-1", "span", "tap", "A", ""))))
    >>> section = {node: int(compiled.section[compiled.point(node, "A")]) for node in ("main", "tap")}
    >>> opened = Opened(compiled, {"J-1": "A", "C-1": "A"})
    >>> opened.between({section["tap"]}, np.array([section["main"]])).tolist()
    [2]
    """

    def __init__(self, compiled: Compiled, phases: Mapping[str, str]) -> None:
        self.compiled = compiled
        self.phases = dict(phases)
        self.switches = frozenset(compiled.numbers(phases.items()))

    def with_also(self, phases: Mapping[str, str]) -> "Opened":
        """The same with these open as well; itself where they are."""
        if all(set(letters) <= set(self.phases.get(device, "")) for device, letters in phases.items()):
            return self
        return Opened(self.compiled, also_open(self.phases, phases))

    def between(self, work: Collection[int], sources: Ints) -> Ints:
        """For each of these sections of sources the fewest devices that would have to be closed, on all their
        phases, for it to reach one of the sections of the work; NEVER where it never does.

        Cost: a search of what stands open; it ends with the last source.
        """
        of_sources = self._islands[sources]
        wanted = set(of_sources.tolist())
        found: dict[int, int] = {}
        # What was paid for is kept only of devices that may be crossed at two places far apart. One way to an
        # island is no better than another if that could pay for all that this has paid for, and not cost
        # more: whatever comes after, it can do the same.
        beaten: dict[int, list[tuple[int, frozenset[str]]]] = {}
        queue = deque((int(self._islands[section]), 0, frozenset[str]()) for section in set(work))
        while queue and wanted:
            here, cost, paid = queue.popleft()
            if any(less + len(paid - other) <= cost for less, other in beaten.get(here, ())):
                continue
            beaten.setdefault(here, []).append((cost, paid))
            found.setdefault(here, cost)
            wanted.discard(here)
            for device, others in self._joints.get(here, ()):
                if device in paid:
                    queue.extendleft((there, cost, paid) for there in others)
                    continue
                then = paid | {device} if device in self._far_apart else paid
                for there in others:
                    if there not in found or found[there] + len(then) > cost + 1:
                        queue.append((there, cost + 1, then))
        opens: Ints = np.full(int(self._islands.max()) + 1, NEVER)
        opens[list(found)] = list(found.values())
        return opens[of_sources]

    @cached_property
    def _islands(self) -> Ints:
        """The island of each section, by what stands closed and by couplings."""
        closed = np.ones(len(self.compiled.switches), dtype=np.bool_)
        closed[list(self.switches)] = False
        whole = self.compiled.whole
        count, island = whole.islands(closed)
        members = whole.members
        first = members.sections[np.cumsum(members.sizes) - members.sizes].repeat(members.sizes)
        _, part = join(count, np.column_stack((island[first], island[members.sections])))
        return part[island]

    @cached_property
    def _joints_of(self) -> dict[str, list[frozenset[int]]]:
        """For each device the groups of islands that closing it would join."""
        pairs: dict[str, list[set[int]]] = {}
        for number in sorted(self.switches):
            ends = {int(self._islands[section]) for section in self.compiled.graph.ends[number]}
            pairs.setdefault(self.compiled.switches[number].device.id, []).append(ends)
        return {device: _grouped(ends for ends in found if len(ends) > 1) for device, found in pairs.items()}

    @cached_property
    def _joints(self) -> dict[int, list[Joint]]:
        """Island -> the joints at it."""
        found: dict[int, list[Joint]] = {}
        for device, groups in self._joints_of.items():
            for group in groups:
                for island in group:
                    found.setdefault(island, []).append((device, group - {island}))
        return found

    @cached_property
    def _far_apart(self) -> frozenset[str]:
        """The devices that join islands at more than one place."""
        return frozenset(device for device, groups in self._joints_of.items() if len(groups) > 1)


def _grouped(pairs: Iterable[set[int]]) -> list[frozenset[int]]:
    groups: list[set[int]] = []
    for pair in pairs:
        meeting = [group for group in groups if group & pair]
        groups = [group for group in groups if not group & pair]
        groups.append(pair.union(*meeting))
    return [frozenset(group) for group in groups]
