"""The search for the ways into one phase of limits, against networkx on the raw graph of node-phases."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Any, NamedTuple

import networkx as nx
from hypothesis import given, settings

from circuits.core.network import Compiled, compile_network
from circuits.core.proving.waysin import Reach, Reports, WayIn, WaysIn
from circuits.core.values import letters
from circuits.core.ways import Way
from tests.core.made_cases import Case, cases
from tests.core.raw_graph import Point, points

# Each of them goes through every way of every phase.
half = settings(max_examples=max(1, settings().max_examples // 2))
# An edge of the raw graph: what it is, how bad it is, and whether it is crossed (not what lies in a section).
Edge = tuple[str, str, Reach, bool]


class Near(NamedTuple):
    """One of the nearest ways."""

    source: str
    reach: Reach
    gate: str | int
    way: WayIn


@dataclass(frozen=True)
class OnePhase:
    """The search for one phase of a case, and what the raw graph says of it."""

    case: Case
    compiled: Compiled
    phase: str

    @cached_property
    def goals(self) -> set[Point]:
        return {point for point in self.case.limits if point[1] == self.phase}

    @cached_property
    def search(self) -> WaysIn:
        switches = (
            frozenset(self.compiled.numbers(phases.items()))
            for phases in (self.case.opened, self.case.tagged)
        )
        sections = (frozenset(map(self.section, found)) for found in (self.goals, self.case.limits))
        return WaysIn(Reports(self.compiled, *switches), *sections)

    def section(self, point: Point) -> int:
        return int(self.compiled.section[self.compiled.index[point]])

    def filled(self, way: WayIn) -> Way:
        goals = frozenset(self.compiled.index[goal] for goal in self.goals)
        return self.search.reports.filled(way, goals)

    @cached_property
    def nearest(self) -> list[Near]:
        near = self.search.nearest
        return [
            Near(
                self.case.network.sources[near.source[place]].id,
                Reach(near.reach[place]),
                near.gates[near.gate[place]],
                self.search.way(place),
            )
            for place in range(len(near.source))
        ]

    @cached_property
    def graph(self) -> "nx.MultiGraph[Point]":
        raw = self.case.raw
        graph: nx.MultiGraph[Point] = nx.MultiGraph()
        graph.add_nodes_from(raw.joined({}))
        for a, b, data in raw.joined({}).edges(data=True):
            if data["row"][0] != "device":
                graph.add_edge(a, b, edge=(*data["row"], Reach.AS_REPORTED, False))
        for device in self.case.network.devices:
            for phase, a, b in raw.legs(device):
                graph.add_edge(a, b, edge=("device", device.id, self.of_a_leg(device.id, phase), True))
        for coupling in raw.couplings:
            unseen = coupling.kind in ("customer", "second feed")
            for a, b in combinations(coupling.members, 2):
                edge = coupling.kind, min(coupling.names), Reach(int(unseen)), True
                graph.add_edge(a, b, edge=edge)
        return graph

    def of_a_leg(self, device: str, phase: str) -> Reach:
        if phase in self.case.tagged[device]:
            return Reach.PAST_A_POINT
        return Reach.NOT_KNOWN if phase in self.case.opened[device] else Reach.AS_REPORTED

    def within(self, reach: Reach) -> "nx.MultiGraph[Point]":
        """The graph without what is worse to cross."""
        every = self.graph.edges(keys=True, data=True)
        edges = [(a, b, key) for a, b, key, data in every if data["edge"][2] > reach]
        graph = self.graph.copy()
        graph.remove_edges_from(edges)
        return graph

    def in_sections_of(self, found: set[Point]) -> set[Point]:
        sections = set(map(self.section, found))
        return {point for point in self.graph if self.section(point) in sections}

    @cached_property
    def sources(self) -> dict[str, set[Point]]:
        return {one.id: set(points(one.node, one.phases)) for one in self.case.network.sources}

    @cached_property
    def live(self) -> set[Point]:
        return set().union(*self.sources.values())

    def edge(self, work: set[Point]) -> Iterator[tuple[str, Reach, Point]]:
        """The legs with one side in the limits that are no point: device, how bad, and the side beyond."""
        for device in self.case.network.devices:
            for phase, *ends in self.case.raw.legs(device):
                needs = self.of_a_leg(device.id, phase)
                if len(set(ends) & work) == 1 and needs is not Reach.PAST_A_POINT:
                    (beyond,) = set(ends) - work
                    yield device.id, needs, beyond

    def links(self, way: WayIn) -> Iterator[Edge]:
        """What a way goes through, each of it found in the raw graph between the same two node-phases."""
        steps = [step for stretch in self.filled(way).stretches for step in stretch.steps]
        here = steps[1][1:]
        assert here in self.sources[way.source]
        for (kind, name, phase), (_, node, then) in zip(steps[2::2], steps[3::2], strict=True):
            assert here[1] == phase
            between = [data["edge"] for data in self.graph.get_edge_data(here, (node, then)).values()]
            yield min(
                (edge for edge in between if edge[0] == kind and name in self.case.raw.alike(*edge[:2])),
                key=lambda edge: edge[2],
            )
            here = node, then
        assert here in self.goals

    def weight(self, edge: Edge) -> int:
        """A point outweighs whatever is not known, and that outweighs all crossings."""
        return edge[3] * (1 + (0, 10**6, 10**12)[edge[2]])

    @cached_property
    def lightest(self) -> dict[Point, float]:
        def weight(_a: Point, _b: Point, between: dict[Any, dict[str, Any]]) -> float:
            return min(self.weight(data["edge"]) for data in between.values())

        return nx.multi_source_dijkstra_path_length(self.graph, self.goals, weight=weight)


def each_phase(case: Case) -> Iterator[OnePhase]:
    compiled = compile_network(case.network)
    for phase in letters({phase for _, phase in case.limits}):
        yield OnePhase(case, compiled, phase)


@half
@given(cases())
def test_the_nearest_way_of_a_source_is_past_the_fewest_points_then_the_least_that_is_not_known(
    case: Case,
) -> None:
    for one in each_phase(case):
        found = {}
        for near in one.nearest:
            edges = list(one.links(near.way))
            assert near.reach == max((edge[2] for edge in edges), default=Reach.AS_REPORTED)
            found[near.source] = sum(map(one.weight, edges))
        expected = {
            name: min(one.lightest[point] for point in at & one.lightest.keys())
            for name, at in one.sources.items()
            if at & one.lightest.keys()
        }
        assert found == expected
        weights = [found[near.source] for near in one.nearest]
        assert weights == sorted(weights)


@half
@given(cases())
def test_a_gate_is_the_last_point_on_the_way_or_else_what_leads_into_the_limits(case: Case) -> None:
    for one in each_phase(case):
        for near in one.nearest:
            way = near.way
            edges = [edge for edge in one.links(way) if edge[3]]
            past = [place for place, edge in enumerate(edges) if edge[2] is Reach.PAST_A_POINT]
            gates = [
                name if kind == "device" else section
                for (kind, name, *_), section in zip(edges, way.sections, strict=False)
            ]
            assert near.gate == (gates[past[-1]] if past else [*way.sections, *gates][-1])


@half
@given(cases())
def test_of_each_device_next_to_the_limits_the_worst_way_over_it_is_told(case: Case) -> None:
    """It does not come back to the limits; a source's nearest way may, on another phase."""
    for one in each_phase(case):
        told: dict[str | int, list[Reach]] = {}
        for near in one.nearest:
            if near.reach < Reach.PAST_A_POINT:
                told.setdefault(near.gate, []).append(near.reach)
        for way in one.search.others():
            edges = [edge for edge in one.links(way) if edge[3]]
            assert way.reach == max(edge[2] for edge in edges)
            if way.reach < Reach.PAST_A_POINT:
                gate = edges[-1][1]
                assert way.reach < min(told.get(gate, [Reach.PAST_A_POINT]))
                told.setdefault(gate, []).append(way.reach)
        limits, work = one.in_sections_of(set(case.limits)), one.in_sections_of(one.goals)
        may: dict[str, list[Reach]] = {}
        for device, needs, beyond in one.edge(work):
            for reach in [Reach.AS_REPORTED, Reach.NOT_KNOWN][needs:]:
                if comes(one, beyond, reach, limits):
                    assert min(told[device]) <= reach
                if comes(one, beyond, reach, work):
                    may.setdefault(device, []).append(reach)
        assert all(min(told[device]) >= min(found) for device, found in may.items() if device in told)


def comes(one: OnePhase, start: Point, reach: Reach, avoid: set[Point]) -> bool:
    """Whether a source hangs together with a node-phase, over nothing worse and without some node-phases."""
    if start in avoid:
        return False
    graph = one.within(reach)
    graph.remove_nodes_from(avoid)
    return bool(nx.node_connected_component(graph, start) & one.live)


@half
@given(cases())
def test_a_point_is_named_if_a_source_is_behind_it_and_not_if_none_is(case: Case) -> None:
    """Of the points that part what the limits hang together with from the rest. A source that only comes
    through the limits on another phase may be told at either place."""
    for one in each_phase(case):
        inside: set[Point] = set()
        for goal in one.goals:
            inside |= nx.node_connected_component(one.within(Reach.NOT_KNOWN), goal)
        limits = one.in_sections_of(set(case.limits))
        must, may, parts = set[str](), set[str](), set[str]()
        for device in case.network.devices:
            for phase, *ends in case.raw.legs(device):
                if phase in case.tagged[device.id] and len(set(ends) - inside) == 1:
                    (beyond,) = set(ends) - inside
                    parts.add(device.id)
                    if comes(one, beyond, Reach.PAST_A_POINT, inside):
                        may.add(device.id)
                    if comes(one, beyond, Reach.PAST_A_POINT, inside | limits):
                        must.add(device.id)
        ways = [near.way for near in one.nearest]
        named = {past(one, way) for way in [*ways, *one.search.others()]}
        assert must <= named
        assert named & parts <= may


def past(one: OnePhase, way: WayIn) -> str:
    """The last point on a way, "" for none."""
    return next((edge[1] for edge in reversed(list(one.links(way))) if edge[2] is Reach.PAST_A_POINT), "")
