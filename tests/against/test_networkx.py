"""The trace and the live paths against networkx on the raw graph of node-phases, without sections.

Made-up networks of a few nodes with everything that joins or couples phases, in any state of the devices.
`make soak` tries thousands.
"""

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.isolation import LivePath, fence, live_paths, told
from circuits.core.network import Compiled, Coupling, Network, compile_network
from circuits.core.trace import Answer, trace
from tests.core.made_networks import networks, states
from tests.core.raw_graph import Between, Point, RawGraph, points

State = tuple[Network, dict[str, str]]


@given(states())
def test_every_answer_is_that_of_the_raw_graph(case: State) -> None:
    network, opened = case
    state = trace(compile_network(network), opened)
    expected = RawGraph(network, opened).answers
    assert {point: (state.answer(*point), set(state.sources(*point))) for point in expected} == expected
    assert all(state.why(*point) for point in expected)


def is_named(compiled: Compiled, coupling: Coupling, expected: Iterable[Between]) -> list[Between]:
    members = {compiled.points[member] for member in coupling.members}
    return [
        one
        for one in expected
        if (one.kind, set(one.members)) == (coupling.kind, members) and coupling.id in one.names
    ]


@given(states())
def test_whatever_may_backfeed_a_phase_is_named(case: State) -> None:
    network, opened = case
    compiled = compile_network(network)
    state = trace(compiled, opened)
    raw = RawGraph(network, opened)
    for point in raw.answers:
        expected = raw.through(point)
        found = {
            one: phases
            for coupling, phases in state.through(*point)
            for one in is_named(compiled, coupling, expected)
        }
        assert found == expected
        assert len(found) == len(state.through(*point))


@given(states())
def test_every_premises_has_what_its_transformers_have(case: State) -> None:
    network, opened = case
    raw = RawGraph(network, opened)
    found = trace(compile_network(network), opened).premises()
    assert found.keys() == {premises.id for premises in network.premises}
    whole = {name for name, state in found.items() if state.answer is Answer.ENERGIZED}
    assert trace(compile_network(network), opened).without_supply() == found.keys() - whole
    for premises in network.premises:
        state, expected = found[premises.id], raw.has(premises)
        assert (state.answer, state.phases_out) == (expected.answer, expected.phases_out)
        assert state.out == (expected.answer in (Answer.GENERATOR, Answer.DEENERGIZED))
        assert state.behind == expected.behind
        assert set(state.sources) == expected.sources
        assert all(set(state.through) & one.names for one in expected.through)
        assert set(state.through) <= {name for one in expected.through for name in one.names}


def assert_it_is_a_way(raw: RawGraph, path: LivePath, limits: set[Point]) -> int:
    """Each thing on it is an edge of the raw graph between the nodes around it. How many crossings it has."""
    source = raw.network.source[path.source_id]
    assert [element.kind for element in path.elements[:2]] == ["source", "node"]
    assert path.elements[0].id == source.id
    assert path.elements[1].id == source.node
    assert set(path.elements[1].phase) <= set(source.phases)
    graph = raw.coupled(raw.opened)
    nodes = path.elements[1::2]
    assert all(element.kind == "node" for element in nodes)
    crossings = 0
    for (start, end), between in zip(pairwise(nodes), path.elements[2::2], strict=True):
        for a in start.phase:
            pairs = [((start.id, a), (end.id, b)) for b in end.phase]
            edges = [edge for pair in pairs for edge in (graph.get_edge_data(*pair) or {}).values()]
            rows = {(kind, one) for kind, name in (e["row"] for e in edges) for one in raw.alike(kind, name)}
            assert (between.kind, between.id) in rows
        assert between.phase == start.phase
        crossings += between.kind not in WITHIN
    assert set(points(nodes[-1].id, path.phases)) <= limits
    assert path.phases == nodes[-1].phase
    assert path.devices == tuple(element.id for element in path.elements if element.kind == "device")
    return crossings


WITHIN = ("line", "regulator", "transformer")  # what never parts a section


def crossings_of(start: Point, end: Point, edges: dict[Any, dict[str, Any]]) -> int:
    return min(edge["row"][0] not in WITHIN for edge in edges.values())


@given(states(), st.data())
def test_every_source_that_the_raw_graph_reaches_has_a_way(case: State, data: st.DataObject) -> None:
    network, blocked = case
    compiled = compile_network(network)
    raw = RawGraph(network, blocked)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=4))
    far = nx.multi_source_dijkstra_path_length(raw.coupled(blocked), limits, weight=crossings_of)
    fewest = {
        one.id: min(far[point] for point in points(one.node, one.phases) if point in far)
        for one in network.sources
        if any(point in far for point in points(one.node, one.phases))
    }
    told_of = {one.id for one in network.sources} - raw.machines.keys() - raw.of_stations
    ways = live_paths(compiled, blocked, limits)
    through_a_transfer_switch = told(compiled, blocked, limits)
    assert {path.source_id for path in ways} == fewest.keys() - told_of
    assert {path.source_id for path in through_a_transfer_switch} == fewest.keys() & told_of
    assert len(set(ways)) == len(ways)
    crossings: dict[str, list[int]] = {}
    for path in (*ways, *through_a_transfer_switch):
        crossings.setdefault(path.source_id, []).append(assert_it_is_a_way(raw, path, limits))
    assert {name: min(found) for name, found in crossings.items()} == fewest
    order = [(path.source_id not in raw.of_stations, len(path.devices)) for path in ways]
    assert order == sorted(order)


@given(states(), st.data())
def test_every_device_at_the_edge_over_which_a_source_comes_is_on_a_way(
    case: State, data: st.DataObject
) -> None:
    network, blocked = case
    compiled = compile_network(network)
    raw = RawGraph(network, blocked)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=4))
    without_devices = raw.joined({device.id: device.phases for device in network.devices})
    inside = {point for start in limits for point in nx.node_connected_component(without_devices, start)}
    outside = raw.coupled(blocked)
    outside.remove_nodes_from(inside)
    live = {
        point
        for one in network.sources
        if one.id in raw.machines or one.id in raw.of_stations
        for point in points(one.node, one.phases)
    }
    last = {
        (nearest.id, phase)
        for path in live_paths(compiled, blocked, limits)
        for nearest in [element for element in path.elements if element.kind == "device"][-1:]
        for phase in nearest.phase
    }
    for device in network.devices:
        for phase, *ends in raw.legs(device):
            beyond = set(ends) - inside
            if phase not in blocked[device.id] and len(beyond) == 1:
                ((_, from_phase),) = beyond
                if nx.node_connected_component(outside, *beyond) & live:
                    assert (device.id, from_phase) in last


@given(networks(), st.data())
def test_the_fence_is_what_is_first_met(network: Network, data: st.DataObject) -> None:
    compiled = compile_network(network)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=3))
    raw = RawGraph(network)
    graph = raw.coupled({device.id: device.phases for device in network.devices})
    inside = {point for start in limits for point in nx.node_connected_component(graph, start)}
    expected = tuple(
        device.id
        for device in network.devices
        if any((start in inside) != (end in inside) for _, start, end in raw.legs(device))
    )
    assert fence(compiled, limits) == expected
