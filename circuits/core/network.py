"""A network contracted once into sections, so that every switching question is asked of a small graph.

A *node-phase* is one phase of one node, numbered in the order of the nodes. A *section* is all the
node-phases that hang together through lines, regulators and joining windings whatever stands open or
closed. Between sections there are *switches* (one phase of a device each) and *couplings* (windings,
machines and capacitors that carry voltage from one phase to another without joining them).
"""

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from circuits.core.couplings import Coupling, couplings
from circuits.core.joining import Ints, join
from circuits.core.proving.outward import Outward
from circuits.core.sections import SectionGraph
from circuits.core.values import (
    Capacitor,
    Circuit,
    Device,
    Line,
    Load,
    Network,
    Node,
    Premises,
    Regulator,
    Source,
    Structure,
    Transformer,
    normally_open,
)
from circuits.core.whole import Flags, Whole

__all__ = [
    "Capacitor",
    "Circuit",
    "Compiled",
    "Coupling",
    "Device",
    "Line",
    "Link",
    "Load",
    "Network",
    "Node",
    "Premises",
    "Regulator",
    "Source",
    "Structure",
    "Switch",
    "Transformer",
    "compile_network",
    "normally_open",
]


@dataclass(frozen=True, slots=True)
class Switch:
    """One phase of a device, between two node-phases."""

    device: Device
    phase: str
    ends: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Link:
    """A way between two node-phases: a line, regulator or transformer within a section, else a device or
    coupling."""

    kind: str
    id: str
    start: int
    end: int


@dataclass(frozen=True, eq=False)
class Compiled:
    """A network with its sections. Build it with `compile_network`.

    `index` gives the number of a node-phase and `points` the node and phase of a number; `section` has, for
    each node-phase, its section; `switch` the number in `switches` of a phase of a device.
    """

    network: Network
    index: dict[tuple[str, str], int]
    points: tuple[tuple[str, str], ...]
    section: Ints
    sections: int
    switches: tuple[Switch, ...]
    switch: dict[tuple[str, str], int]
    couplings: tuple[Coupling, ...]
    inner: tuple[Link, ...]

    @cached_property
    def device_order(self) -> dict[str, int]:
        """The place of each device in the order of the network."""
        return {device.id: place for place, device in enumerate(self.network.devices)}

    @cached_property
    def switch_ends(self) -> Ints:
        """The sections on both sides of every switch, shape (switches, 2)."""
        ends = np.array([switch.ends for switch in self.switches], dtype=np.int64).reshape(-1, 2)
        return self.section[ends]

    @cached_property
    def sources_at(self) -> dict[int, list[tuple[Source, int]]]:
        """Section -> the sources in it, each with its node-phase."""
        found: dict[int, list[tuple[Source, int]]] = {}
        for source in self.network.sources:
            for phase in source.phases:
                point = self.index[source.node, phase]
                found.setdefault(int(self.section[point]), []).append((source, point))
        return found

    @cached_property
    def graph(self) -> SectionGraph:
        """The sections as plain lists, for searches of a few of them."""
        return SectionGraph(self)

    @cached_property
    def whole(self) -> Whole:
        """The sections as arrays, for answers about all of them."""
        return Whole(self)

    @cached_property
    def outward(self) -> Outward:
        """The sections as the arrays of a shortest-path search."""
        return Outward(self)

    @cached_property
    def inside(self) -> dict[int, list[Link]]:
        """Node-phase -> the links that stay in its section."""
        found: dict[int, list[Link]] = {}
        for link in self.inner:
            found.setdefault(link.start, []).append(link)
            found.setdefault(link.end, []).append(Link(link.kind, link.id, link.end, link.start))
        return found

    def crossing(self, number: int, start: int, end: int) -> Link:
        """The way from one section to another over a switch, or over a coupling that has -1 - its number."""
        if number >= 0:
            a, b = self.switches[number].ends
            if int(self.section[a]) != start:
                a, b = b, a
            return Link("device", self.switches[number].device.id, a, b)
        coupling = self.couplings[-1 - number]
        first = {int(self.section[member]): member for member in reversed(coupling.members)}
        return Link(coupling.kind, coupling.id, first[start], first[end])

    def point(self, node: str, phase: str) -> int:
        """The number of a node-phase; ValueError if there is none such."""
        try:
            return self.index[node, phase]
        except KeyError:
            message = f"node {node} has no phase {phase}" if node in self.network.node else f"no node {node}"
            raise ValueError(message) from None

    def numbers(self, phases_of: Iterable[tuple[str, str]]) -> Iterator[int]:
        """The switches of (device, phases) pairs; ValueError for a device or a phase that is not there."""
        for device, phases in phases_of:
            for phase in phases:
                if (device, phase) not in self.switch:
                    known = device in self.network.device
                    raise ValueError(
                        f"device {device} has no phase {phase}" if known else f"no device {device}"
                    )
                yield self.switch[device, phase]

    def closed(self, open_phases: Mapping[str, str]) -> Flags:
        """Whether each switch stands closed, with the given phases of devices open and all others closed;
        ValueError for a device or a phase that is not there. Cost: what differs from the normal state."""
        normal = self.network.normally_open
        moved = sorted({device for device, _ in open_phases.items() ^ normal.items()})
        opened = list(self.numbers((device, open_phases.get(device, "")) for device in moved))
        closed = self._normally_closed.copy()
        closed[list(self.numbers((device, normal.get(device, "")) for device in moved))] = True
        closed[opened] = False
        return closed

    @cached_property
    def _normally_closed(self) -> Flags:
        closed = np.ones(len(self.switches), dtype=np.bool_)
        closed[list(self.numbers(self.network.normally_open.items()))] = False
        return closed

    def way_inside(self, start: int, goals: Collection[int]) -> list[Link]:
        """The fewest links from a node-phase to the nearest of some node-phases of the same section."""
        came: dict[int, Link | None] = {start: None}
        queue = deque([start])
        while (here := queue.popleft()) not in goals:
            for link in self.inside.get(here, ()):
                if link.end not in came:
                    came[link.end] = link
                    queue.append(link.end)
        way: list[Link] = []
        while (step := came[here]) is not None:
            way.append(step)
            here = step.start
        return way[::-1]


def compile_network(network: Network) -> Compiled:
    """Contract a network into sections.

    Raises ValueError, naming the row, where a row refers to a node that is not there or to a phase that its
    node has not. Cost: one pass over the rows and one scipy connected-components; do it once a revision.

    >>> compiled = compile_network(Network(
    ...     nodes=(Node("n1", "AB"), Node("n2", "A"), Node("n3", "A")),
    ...     lines=(Line("l1", "n1", "n2", "A"),),
    ...     devices=(Device("C-1", "n2", "n3", "A", closed="A"),)))
    >>> compiled.sections, compiled.points
    (3, (('n1', 'A'), ('n1', 'B'), ('n2', 'A'), ('n3', 'A')))
    >>> compiled.section.tolist()
    [0, 1, 0, 2]
    """
    points = tuple((node.id, phase) for node in network.nodes for phase in node.phases)
    index = {point: number for number, point in enumerate(points)}

    def at(row: str, node: str, phases: str = "") -> tuple[int, ...]:
        """Those phases of a node, or all that it has."""
        if node not in network.node:
            raise ValueError(f"{row} refers to node {node}, which is not there")
        phases = phases or network.node[node].phases
        if missing := [phase for phase in phases if (node, phase) not in index]:
            raise ValueError(f"{row} needs phase {missing[0]} at node {node}, which has none such")
        return tuple(index[node, phase] for phase in phases)

    inner: list[Link] = []
    for branch in network.branches:
        kind = type(branch).__name__.lower()
        starts = at(f"{kind} {branch.id}", branch.from_node, branch.phases)
        ends = at(f"{kind} {branch.id}", branch.to_node, branch.phases)
        inner += [Link(kind, branch.id, start, end) for start, end in zip(starts, ends, strict=True)]
    for transformer in network.transformers:
        if transformer.joins:
            row = f"transformer {transformer.id}"
            primary = at(row, transformer.primary_node, transformer.phases)
            secondary = at(row, transformer.secondary_node, transformer.phases)
            inner += [
                Link("transformer", transformer.id, start, end)
                for start, end in zip(primary, secondary, strict=True)
            ]
    switches = [
        Switch(device, phase, (start, end))
        for device in network.devices
        for phase, start, end in zip(
            device.phases,
            at(f"device {device.id}", device.from_node, _phases_joined(network, device, device.from_node)),
            at(f"device {device.id}", device.to_node, _phases_joined(network, device, device.to_node)),
            strict=True,
        )
    ]
    for source in network.sources:
        at(f"source {source.id}", source.node, source.phases)
    sections, section = join(
        len(points), np.array([(link.start, link.end) for link in inner], dtype=np.int64)
    )
    return Compiled(
        network=network,
        index=index,
        points=points,
        section=section,
        sections=sections,
        switches=tuple(switches),
        switch={(switch.device.id, switch.phase): number for number, switch in enumerate(switches)},
        couplings=tuple(couplings(network, at)),
        inner=tuple(inner),
    )


def _phases_joined(network: Network, device: Device, node_id: str) -> str:
    """Which phases of a node a device joins, in the order of its own.

    They are its own but for a secondary tie on one side of which a line tap has moved: its legs are joined to
    the legs that are there, whatever they now derive from.
    """
    node = network.node.get(node_id)
    if (
        node is None
        or device.kind != "secondary_tie"
        or set(device.phases) <= set(node.phases)
        or len(device.phases) != len(node.phases)
    ):
        return device.phases
    return node.phases
