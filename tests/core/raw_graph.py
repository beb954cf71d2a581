"""What the trace must answer, by networkx on the raw graph of node-phases: no sections, no islands.

Written from the definitions of the README and the notes of a network package, with whole rows as edges.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import TypeAlias

import networkx as nx

from circuits.core.network import Device, Line, Network, Premises, Regulator, Transformer
from circuits.core.trace import Answer
from circuits.core.values import letters
from tests.core.made_networks import LIKE_PHASES

Point = tuple[str, str]
Graph: TypeAlias = "nx.MultiGraph[Point]"

# The kinds of machine that a transfer switch can keep off the utility's wires: an inverter's trip is no such.
SWITCHED_OVER = {"generator", "standby", "mobile"}


def points(node: str, phases: str) -> tuple[Point, ...]:
    return tuple((node, phase) for phase in phases)


@dataclass(frozen=True)
class Between:
    """A row by which a live phase may put voltage on others; services of the same phases count as one, with
    the names of all."""

    kind: str
    names: frozenset[str]
    members: tuple[Point, ...]


@dataclass(frozen=True)
class Feed:
    """What a premises has from one transformer, in the words of `PremisesState`."""

    answer: Answer
    phases_out: str = ""
    behind: tuple[str, ...] = ()
    through: tuple[Between, ...] = ()
    sources: frozenset[str] = frozenset()


@dataclass
class RawGraph:
    """A network with some phases of devices open (or blocked)."""

    network: Network
    opened: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def phases_at(self) -> dict[str, str]:
        return {node.id: node.phases for node in self.network.nodes}

    @cached_property
    def transformer(self) -> dict[str, Transformer]:
        return {one.id: one for one in self.network.transformers}

    def joined(self, opened: Mapping[str, str]) -> Graph:
        """The wires: an edge for each phase of what goes through, its `row` the kind and id."""
        graph: Graph = nx.MultiGraph()
        graph.add_nodes_from(point for node in self.network.nodes for point in points(node.id, node.phases))
        kinds: dict[str, tuple[Line | Regulator, ...]] = {
            "line": self.network.lines,
            "regulator": self.network.regulators,
        }
        for kind, rows in kinds.items():
            for row in rows:
                for phase in row.phases:
                    graph.add_edge((row.from_node, phase), (row.to_node, phase), row=(kind, row.id))
        for device in self.network.devices:
            for phase, start, end in self.legs(device):
                if phase not in opened.get(device.id, ""):
                    graph.add_edge(start, end, row=("device", device.id))
        for one in self.network.transformers:
            if one.connection in LIKE_PHASES:
                for phase in one.phases:
                    ends = (one.primary_node, phase), (one.secondary_node, phase)
                    graph.add_edge(*ends, row=("transformer", one.id))
        return graph

    def legs(self, device: Device) -> Iterator[tuple[str, Point, Point]]:
        """Each phase of a device and what it joins. A secondary tie joins the legs of both sides in order,
        though a line tap may have been moved since and the side derives from other phases now."""
        for place, phase in enumerate(device.phases):
            start, end = (
                (node, phase if device.kind != "secondary_tie" else self._leg(device.phases, node, place))
                for node in (device.from_node, device.to_node)
            )
            yield phase, start, end

    def _leg(self, phases: str, node: str, place: int) -> str:
        moved = not set(phases) <= set(self.phases_at[node])
        return self.phases_at[node][place] if moved else phases[place]

    @cached_property
    def couplings(self) -> list[Between]:
        """Everything by which a live phase may put voltage on another."""
        found = []
        for one in self.network.transformers:
            primary = points(one.primary_node, one.phases)
            secondary = points(one.secondary_node, self.phases_at[one.secondary_node])
            if one.connection not in LIKE_PHASES:
                kind = "unit" if one.connection == "phase_to_phase" else "bank"
                found.append(Between(kind, frozenset({one.id}), (*primary, *secondary)))
            elif one.common_core:
                found.append(Between("bank", frozenset({one.id}), primary))
        for capacitor in self.network.capacitors:
            if capacitor.connection in ("wye", "delta"):
                members = points(capacitor.node, capacitor.phases)
                found.append(Between("capacitor", frozenset({capacitor.id}), members))
        for load in self.network.loads:
            if load.connection == "delta":
                found.append(Between("load", frozenset({load.id}), points(load.node, load.phases)))
        services: dict[tuple[str, str], set[str]] = {}
        for premises in self.network.premises:
            for one, served in self.feeds(premises):
                # A bank's own windings couple these already.
                if one.connection in LIKE_PHASES:
                    services.setdefault((one.id, served), set()).add(premises.id)
        for (name, served), names in services.items():
            members = points(self.transformer[name].secondary_node, served)
            found.append(Between("customer", frozenset(names), members))
        found += self._second_feeds()
        two_feeds: dict[tuple[str, str, str], set[str]] = {}
        for premises in self.network.premises:
            if premises.second_transformer and premises.transfer in ("closed", "automatic", ""):
                alike = premises.transformer, premises.second_transformer, premises.phases
                two_feeds.setdefault(alike, set()).add(premises.id)
        for (first, second, phases), names in two_feeds.items():
            members = tuple(
                dict.fromkeys(
                    point
                    for node in (
                        self.transformer[first].secondary_node,
                        self.transformer[second].secondary_node,
                    )
                    for point in points(node, phases or self.phases_at[node])
                )
            )
            found.append(Between("second feed", frozenset(names), members))
        return [coupling for coupling in found if len(coupling.members) > 1]

    def _second_feeds(self) -> Iterator[Between]:
        """Premises whose two feeds may be made together: only a transfer on record as open never does."""
        alike: dict[tuple[str, str, str], set[str]] = {}
        for premises in self.network.premises:
            if premises.second_transformer and premises.transfer in ("closed", "automatic", ""):
                key = premises.transformer, premises.second_transformer, premises.phases
                alike.setdefault(key, set()).add(premises.id)
        for names in alike.values():
            (any_of_them,) = [one for one in self.network.premises if one.id == min(names)]
            members = [
                point
                for one, served in self.feeds(any_of_them)
                for point in points(one.secondary_node, served)
            ]
            yield Between("second feed", frozenset(names), tuple(dict.fromkeys(members)))

    def coupled(self, opened: Mapping[str, str]) -> Graph:
        """The wires, and an edge between every two phases that are coupled."""
        graph = self.joined(opened)
        for coupling in self.couplings:
            for a, b in combinations(coupling.members, 2):
                graph.add_edge(a, b, row=(coupling.kind, min(coupling.names)))
        return graph

    @cached_property
    def wires(self) -> Graph:
        return self.joined(self.opened)

    def wire(self, point: Point) -> set[Point]:
        """All that hangs together with a node-phase through what stands closed."""
        return nx.node_connected_component(self.wires, point)

    def alike(self, kind: str, name: str) -> frozenset[str]:
        """The names that the row of an edge may be called by."""
        for coupling in self.couplings:
            if coupling.kind == kind and name in coupling.names:
                return coupling.names
        return frozenset({name})

    @cached_property
    def of_stations(self) -> set[str]:
        return {one.id for one in self.network.sources if one.kind == "station"}

    @cached_property
    def machines(self) -> dict[str, tuple[Point, ...]]:
        """The customers' machines that no transfer switch on record keeps off."""
        return {
            one.id: points(one.node, one.phases)
            for one in self.network.sources
            if one.kind != "station"
            and not (one.kind in SWITCHED_OVER and one.means_of_disconnection == "interlocked")
        }

    @cached_property
    def stations(self) -> dict[Point, set[str]]:
        """Every energized node-phase, with the stations it is energized from."""
        found: dict[Point, set[str]] = {}

        def feed(start: Point, names: set[str]) -> bool:
            news = [point for point in self.wire(start) if not names <= found.get(point, set())]
            for point in news:
                found.setdefault(point, set()).update(names)
            return bool(news)

        for one in self.network.sources:
            if one.kind == "station":
                for point in points(one.node, one.phases):
                    feed(point, {one.id})
        banks = [one for one in self.network.transformers if one.connection not in LIKE_PHASES]
        grew = True
        while grew:
            grew = False
            for bank in banks:
                primary = points(bank.primary_node, bank.phases)
                if all(point in found for point in primary):
                    names = set().union(*(found[point] for point in primary))
                    for point in points(bank.secondary_node, self.phases_at[bank.secondary_node]):
                        grew |= feed(point, names)
        return found

    @cached_property
    def answers(self) -> dict[Point, tuple[Answer, set[str]]]:
        """For each node-phase the answer and whose voltage it is or may be."""
        graph = self.coupled(self.opened)
        energized = self.stations
        found = {point: (Answer.ENERGIZED, names) for point, names in energized.items()}
        for part in nx.connected_components(graph.subgraph(set(graph) - set(energized))):
            beside = {there for point in part for there in graph[point] if there in energized}
            from_stations = {name for point in beside for name in energized[point]}
            from_machines = {name for name, at in self.machines.items() if part & set(at)}
            if from_stations:
                told = Answer.BACKFED, from_stations
            elif from_machines:
                told = Answer.GENERATOR, from_machines
            else:
                told = Answer.DEENERGIZED, set()
            found.update(dict.fromkeys(part, told))
        return found

    def through(self, point: Point) -> dict[Between, str]:
        """The couplings at the wire of a backfed node-phase, with the phases that each comes from."""
        if self.answers[point][0] is not Answer.BACKFED:
            return {}
        wire = self.wire(point)
        found = {}
        for coupling in self.couplings:
            if wire & set(coupling.members):
                others = [member for member in coupling.members if member not in wire]
                energized = [member for member in others if member in self.stations]
                found[coupling] = letters({phase for _, phase in energized or others})
        return found

    def behind(self, point: Point) -> list[str]:
        """The open devices that cut a node-phase off: closed again, each would join it to a way on to what is
        energized. Of these the ones that are normally closed, if there are any."""
        wire = self.wire(point)
        all_closed = self.joined({})
        all_closed.remove_nodes_from(wire)
        cut = []
        for device in self.network.devices:
            for phase, *ends in self.legs(device):
                beyond = set(ends) - wire
                if phase in self.opened.get(device.id, "") and len(beyond) == 1:
                    reached = nx.node_connected_component(all_closed, *beyond)
                    if reached & self.stations.keys():
                        cut.append((device, phase))
        moved = [device.id for device, phase in cut if phase in device.closed]
        return moved or [device.id for device, _ in cut]

    def feeds(self, premises: Premises) -> Iterator[tuple[Transformer, str]]:
        for name in filter(None, (premises.transformer, premises.second_transformer)):
            one = self.transformer[name]
            yield one, premises.phases or self.phases_at[one.secondary_node]

    def has(self, premises: Premises) -> Feed:
        """What a premises has: the better of its two feeds, the first where they are alike."""
        found = [self._feed(one, served) for one, served in self.feeds(premises)]
        return min(found, key=lambda feed: list(Answer).index(feed.answer))

    def _feed(self, one: Transformer, served: str) -> Feed:
        found = [self.answers[point] for point in points(one.secondary_node, served)]
        here = {answer for answer, _ in found}
        from_stations = {name for answer, names in found if answer is not Answer.GENERATOR for name in names}
        from_machines = {name for answer, names in found if answer is Answer.GENERATOR for name in names}
        if here == {Answer.ENERGIZED}:
            return Feed(Answer.ENERGIZED, sources=frozenset(from_stations))
        if here & {Answer.ENERGIZED, Answer.BACKFED}:
            answer = Answer.BACKFED
        else:
            answer = Answer.GENERATOR if Answer.GENERATOR in here else Answer.DEENERGIZED
        # What is lost is said in the phases of the primary.
        supply = (
            points(one.secondary_node, served)
            if one.connection in LIKE_PHASES
            else points(one.primary_node, one.phases)
        )
        out = [point for point in supply if point not in self.stations]
        behind = {device for point in out for device in self.behind(point)}
        return Feed(
            answer,
            "".join(phase for _, phase in out),
            tuple(device.id for device in self.network.devices if device.id in behind),
            tuple(dict.fromkeys(coupling for point in out for coupling in self.through(point))),
            frozenset(from_stations if answer is Answer.BACKFED else from_machines),
        )
