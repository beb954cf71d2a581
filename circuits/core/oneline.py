"""The order in which a part of the network is drawn: a spine, and rows that branch from it, pole by pole.

Nothing here has a size or a state: that is added where the drawing is made (`circuits.oneline`).
"""

import functools
import heapq
import itertools
from collections.abc import Collection
from dataclasses import dataclass, replace
from math import inf

from circuits.core.limits import SECONDARY_KV
from circuits.core.network import Compiled, normally_open
from circuits.core.values import Device, Line, Regulator

# Crossing a device costs as much as this many metres, and one that is normally open more than any way round.
_DEVICE_METRES = 50.0
_OPEN_METRES = 1e6
# A section next to the one asked for is drawn whole up to so many nodes, else only to its first pole.
_SMALL_SECTION = 4


@dataclass(frozen=True, slots=True)
class Span:
    """What joins two stops: a "line", "device" or "regulator"."""

    kind: str
    id: str
    phases: str


@dataclass(frozen=True, slots=True)
class Drop:
    """A transformer or capacitor (`kind`) that hangs at a stop, behind a device of its own or none ("")."""

    kind: str
    id: str
    device: str
    node: str


@dataclass(frozen=True, slots=True)
class Stop:
    """A node in a row, what hangs at it, and whether the network goes on there beyond what is drawn."""

    node: str
    drops: tuple[Drop, ...] = ()
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A run of stops with a span between every two.

    `origin` is the stop of an earlier row where it branches off, over `lead` (none for a spine). `closes`
    are the spans by which its stops are joined to those of an earlier row, or of itself, along which no row
    goes: (from node, span, to node).
    """

    origin: str
    lead: Span | None
    stops: tuple[Stop, ...]
    spans: tuple[Span, ...]
    closes: tuple[tuple[str, Span, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Drawing:
    """The rows, each after the one that it branches off from."""

    rows: tuple[Row, ...]


Branch = Line | Device | Regulator


def layout(compiled: Compiled, around: Collection[str] | str) -> Drawing:
    """Put a circuit (by its id) or the neighbourhood of some nodes into rows.

    The neighbourhood of nodes is their sections, with the devices at the edge and what lies just behind
    them. Rows go from the source outward, devices in normal position, the longest way first; a branch that
    could close a loop says where it ends. Raises ValueError for a circuit or node that is not there. Cost:
    O(n log n).

    >>> from circuits.core.network import Device, Line, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("a", "A"), Node("b", "A"), Node("c", "A")),
    ...     lines=(Line("ab", "a", "b", "A"), Line("bc", "b", "c", "A")),
    ...     sources=(Source("s", "a", "station", "A"),)))
    >>> [stop.node for stop in layout(compiled, ["b"]).rows[0].stops]
    ['a', 'b', 'c']
    """
    plan = _plan_of(compiled)
    scope = plan.of_circuit(around) if isinstance(around, str) else plan.near(around)
    return Drawing(tuple(plan.rows(scope)))


@functools.lru_cache(maxsize=1)
def _plan_of(compiled: Compiled) -> "_Plan":
    return _Plan(compiled)


class _Plan:
    def __init__(self, compiled: Compiled) -> None:
        network = self.network = compiled.network
        self.compiled = compiled
        self.normally_open = normally_open(network)
        self.primary = {node.id for node in network.nodes if node.nominal_kv > SECONDARY_KV}
        self.branches: dict[str, list[tuple[Branch, str]]] = {node: [] for node in self.primary}
        branches: list[Branch] = [*network.lines, *network.devices, *network.regulators]
        for branch in branches:
            if branch.from_node in self.primary:
                self.branches[branch.from_node].append((branch, branch.to_node))
                self.branches[branch.to_node].append((branch, branch.from_node))
        self.hanging: dict[str, list[tuple[str, str]]] = {}
        for transformer in network.transformers:
            self.hanging.setdefault(transformer.primary_node, []).append(("transformer", transformer.id))
        for capacitor in network.capacitors:
            self.hanging.setdefault(capacitor.node, []).append(("capacitor", capacitor.id))
        stations = {source.node for source in network.sources if source.is_station}
        # A node with one device and whatever hangs on it is part of a drop, not a place in a row.
        self.drop_nodes = {
            node
            for node, found in self.branches.items()
            if node in self.hanging
            and node not in stations
            and len(found) == 1
            and isinstance(found[0][0], Device)
        }
        self.distance = self._from(stations & self.primary, self.primary - self.drop_nodes)[0]

    def of_circuit(self, circuit: str) -> set[str]:
        if circuit not in self.network.circuit:
            raise ValueError(f"no circuit {circuit}")
        ours: list[Line | Device] = [*self.network.lines, *self.network.devices]
        ends = {node for one in ours if one.circuit == circuit for node in (one.from_node, one.to_node)}
        on_a_line = {
            node
            for line in self.network.lines
            if line.circuit == circuit
            for node in (line.from_node, line.to_node)
        }
        # A tie to another circuit may be on that one's list.
        over_a_tie = {
            beyond
            for node in on_a_line & self.primary
            for branch, beyond in self.branches[node]
            if isinstance(branch, Device)
        }
        return ((ends & self.primary) | over_a_tie) - self.drop_nodes

    def near(self, nodes: Collection[str]) -> set[str]:
        wanted = set()
        for node in nodes:
            if node not in self.network.node:
                raise ValueError(f"no node {node}")
            wanted.add(self.branches[node][0][1] if node in self.drop_nodes else node)
        inside = self._together(wanted & self.primary, self.primary)
        scope = set(inside)
        for node in inside:
            for branch, beyond in self.branches[node]:
                if isinstance(branch, Device) and beyond not in inside | self.drop_nodes:
                    behind = self._together({beyond}, self.primary)
                    if len(behind) <= _SMALL_SECTION:
                        edge = {far for one in behind for _, far in self.branches[one]}
                        scope |= behind | (edge - self.drop_nodes)
                    else:
                        scope.add(beyond)
        return scope

    def _together(self, nodes: Collection[str], scope: Collection[str]) -> set[str]:
        """All of a scope that hangs together with some nodes by lines and regulators."""
        found, waiting = set(nodes), list(nodes)
        while waiting:
            for branch, beyond in self.branches[waiting.pop()]:
                if not isinstance(branch, Device) and beyond in scope and beyond not in found:
                    found.add(beyond)
                    waiting.append(beyond)
        return found

    def _metres(self, branch: Branch) -> float:
        if isinstance(branch, Line):
            return branch.length_m
        return _OPEN_METRES if branch.id in self.normally_open else _DEVICE_METRES

    def _from(
        self, starts: Collection[str], scope: Collection[str]
    ) -> tuple[dict[str, float], dict[str, tuple[Branch, str]]]:
        """The distance of every node of a scope from the nearest start, and by which branch it is reached.

        What hangs together by lines is entered once, so that a section that is fed from two ends stays in one
        piece and in the order of its poles.
        """
        distance: dict[str, float] = {}
        came: dict[str, tuple[Branch, str]] = {}
        entered: set[str] = set()
        # The count keeps two entries of the heap from being compared by their branches.
        count = itertools.count()
        heap: list[tuple[float, int, str, str, Branch | None]] = [
            (0.0, next(count), start, "", None) for start in sorted(starts)
        ]
        while heap:
            far, _, node, origin, over = heapq.heappop(heap)
            if node in distance or (isinstance(over, Device) and node in entered):
                continue
            if node not in entered:
                entered |= self._together({node}, scope)
            distance[node] = far
            if over is not None:
                came[node] = over, origin
            for branch, beyond in self.branches[node]:
                if beyond in scope and beyond not in distance:
                    heapq.heappush(heap, (far + self._metres(branch), next(count), beyond, node, branch))
        return distance, came

    def rows(self, scope: set[str]) -> list[Row]:
        rows: list[Row] = []
        left = set(scope)
        while left:
            start = min(left, key=lambda node: (self.distance.get(node, inf), node))
            distance, came = self._from([start], left)
            rows += self._tree(start, distance, came, scope)
            left -= distance.keys()
        return rows

    def _tree(
        self, start: str, distance: dict[str, float], came: dict[str, tuple[Branch, str]], scope: set[str]
    ) -> list[Row]:
        """The rows of one connected part."""
        children: dict[str, list[str]] = {}
        reach = dict(distance)
        for node in sorted(came, key=lambda one: -distance[one]):
            parent = came[node][1]
            children.setdefault(parent, []).append(node)
            reach[parent] = max(reach[parent], reach[node])
        rows: list[Row] = []
        waiting: list[tuple[str, str]] = [("", start)]
        while waiting:
            origin, node = waiting.pop()
            lead = self._span(came[node][0]) if origin else None
            run, spans, later = [node], [], []
            while onward := sorted(children.get(node, ()), key=lambda one: (-reach[one], one)):
                later += [(node, other) for other in onward[1:]]
                node = onward[0]
                spans.append(self._span(came[node][0]))
                run.append(node)
            rows.append(Row(origin, lead, tuple(self._stop(one, scope) for one in run), tuple(spans)))
            waiting += reversed(later)
        gone_along = {branch.id for branch, _ in came.values()}
        for number in range(len(rows) - 1, -1, -1):
            closes = self._closes(rows[number], scope, gone_along)
            rows[number] = replace(rows[number], closes=closes)
        return rows

    def _closes(self, row: Row, scope: set[str], told: set[str]) -> tuple[tuple[str, Span, str], ...]:
        found = []
        for stop in reversed(row.stops):
            for branch, beyond in self.branches[stop.node]:
                if beyond in scope and branch.id not in told:
                    told.add(branch.id)
                    found.append((stop.node, self._span(branch), beyond))
        return tuple(found)

    def _stop(self, node: str, scope: set[str]) -> Stop:
        drops = [Drop(kind, name, "", node) for kind, name in self.hanging.get(node, ())]
        goes_on = False
        for branch, beyond in self.branches[node]:
            if beyond in self.drop_nodes:
                drops += [Drop(kind, name, branch.id, beyond) for kind, name in self.hanging[beyond]]
            elif beyond not in scope:
                goes_on = True
        return Stop(node, tuple(drops), goes_on)

    @staticmethod
    def _span(branch: Branch) -> Span:
        return Span(type(branch).__name__.lower(), branch.id, branch.phases)
