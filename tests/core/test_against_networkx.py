"""The trace and the live paths against networkx on the raw graph of node-phases, without sections.

Made-up networks of a few nodes with everything that joins or couples phases, in any state of the devices.
"""

from collections.abc import Mapping
from itertools import combinations, pairwise

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from circuits.core.isolation import LivePath, fence, live_paths, told
from circuits.core.network import (
    Capacitor,
    Compiled,
    Device,
    Line,
    Load,
    Network,
    Node,
    Premises,
    Regulator,
    Source,
    Transformer,
    compile_network,
)
from circuits.core.trace import Answer, trace
from circuits.core.values import JOINING

Point = tuple[str, str]

SETS = ["A", "B", "C", "AB", "AC", "BC", "ABC"]
CONNECTIONS = ["single", "wye_grounded-wye_grounded", "wye_grounded-delta", "delta-delta", "phase_to_phase"]


@st.composite
def networks(draw: st.DrawFn) -> Network:
    nodes = [
        Node(f"n{i}", draw(st.sampled_from(["ABC", "ABC", *SETS]))) for i in range(draw(st.integers(2, 7)))
    ]
    named = {node.id: node for node in nodes}
    ids = st.sampled_from([node.id for node in nodes])

    def some(phases: str) -> str:
        return draw(st.sampled_from([found for found in SETS if set(found) <= set(phases)]))

    def branches(most: int) -> list[tuple[str, str, str]]:
        ends = [(draw(ids), draw(ids)) for _ in range(draw(st.integers(0, most)))]
        shared = [
            (a, b, "".join(p for p in named[a].phases if p in named[b].phases)) for a, b in ends if a != b
        ]
        return [(a, b, some(common)) for a, b, common in shared if common]

    lines = [Line(f"l{i}", a, b, phases) for i, (a, b, phases) in enumerate(branches(6))]
    regulators = [Regulator(f"r{i}", a, b, phases) for i, (a, b, phases) in enumerate(branches(1))]
    devices = [Device(f"d{i}", a, b, phases, closed=phases) for i, (a, b, phases) in enumerate(branches(7))]
    transformers = []
    for i in range(draw(st.integers(0, 2))):
        primary = draw(ids)
        phases = some(named[primary].phases)
        connection = draw(st.sampled_from(CONNECTIONS))
        nodes.append(Node(f"s{i}", phases, 0.24))
        core = draw(st.booleans())
        transformers.append(Transformer(f"t{i}", primary, f"s{i}", phases, connection, common_core=core))
    if len(transformers) == 2 and draw(st.booleans()):
        common = "".join(p for p in transformers[0].phases if p in transformers[1].phases)
        if common:
            devices.append(Device("tie", "s0", "s1", common, closed=""))
    named = {node.id: node for node in nodes}
    anywhere = st.sampled_from(list(named))
    places = [draw(anywhere) for _ in range(draw(st.integers(1, 4)))]
    kinds = st.sampled_from(["station", "station", "standby", "inverter"])
    means = st.sampled_from(["visible", "interlocked", "none", "unknown"])
    return Network(
        nodes=tuple(nodes),
        lines=tuple(lines),
        regulators=tuple(regulators),
        devices=tuple(devices),
        transformers=tuple(transformers),
        sources=tuple(
            Source(f"g{i}", node, draw(kinds), some(named[node].phases), draw(means))
            for i, node in enumerate(places)
        ),
        capacitors=tuple(
            Capacitor(f"c{i}", node, some(named[node].phases), draw(st.sampled_from(["wye", "wye_grounded"])))
            for i, node in enumerate(draw(st.lists(anywhere, max_size=1)))
        ),
        loads=tuple(
            Load(f"k{i}", node, some(named[node].phases), draw(st.sampled_from(["wye", "delta"])))
            for i, node in enumerate(draw(st.lists(anywhere, max_size=1)))
        ),
        premises=tuple(
            Premises(f"p{i}", f"t{i}", phases=draw(st.sampled_from(["", transformer.phases[0]])))
            for i, transformer in enumerate(transformers)
        ),
    )


@st.composite
def states(draw: st.DrawFn) -> tuple[Network, dict[str, str]]:
    """A network and the phases of its devices that are open (or blocked)."""
    network = draw(networks())
    return network, {
        device.id: "".join(phase for phase in device.phases if draw(st.booleans()))
        for device in network.devices
    }


def raw_graph(network: Network, opened: Mapping[str, str]) -> "nx.Graph[Point]":
    graph: nx.Graph[Point] = nx.Graph()
    graph.add_nodes_from((node.id, phase) for node in network.nodes for phase in node.phases)
    branches: list[Line | Regulator | Device] = [*network.lines, *network.regulators, *network.devices]
    for branch in branches:
        for phase in branch.phases:
            if phase not in opened.get(branch.id, ""):
                graph.add_edge((branch.from_node, phase), (branch.to_node, phase))
    for transformer in network.transformers:
        if transformer.connection in JOINING:
            for phase in transformer.phases:
                graph.add_edge((transformer.primary_node, phase), (transformer.secondary_node, phase))
    return graph


def coupled_graph(network: Network, opened: Mapping[str, str]) -> "nx.Graph[Point]":
    """The raw graph with a coupling as an edge between every two of what it couples."""
    graph = raw_graph(network, opened)

    def couple(*points: Point) -> None:
        graph.add_edges_from(combinations(points, 2))

    phases_at = {node.id: node.phases for node in network.nodes}
    for bank in network.transformers:
        primary = [(bank.primary_node, phase) for phase in bank.phases]
        if bank.connection not in JOINING:
            couple(*primary, *((bank.secondary_node, phase) for phase in phases_at[bank.secondary_node]))
        elif bank.common_core:
            couple(*primary)
    for capacitor in network.capacitors:
        if capacitor.connection != "wye_grounded":
            couple(*((capacitor.node, phase) for phase in capacitor.phases))
    for load in network.loads:
        if load.connection == "delta":
            couple(*((load.node, phase) for phase in load.phases))
    for premises in network.premises:
        (serving,) = (one for one in network.transformers if one.id == premises.transformer)
        couple(*((serving.secondary_node, phase) for phase in premises.phases or serving.phases))
    return graph


def expected_answers(network: Network, opened: Mapping[str, str]) -> dict[Point, Answer]:
    graph = raw_graph(network, opened)
    feeding = {(one.node, phase) for one in network.sources if one.kind == "station" for phase in one.phases}
    banks = [one for one in network.transformers if one.connection not in JOINING]
    while True:
        energized = {point for start in feeding for point in nx.node_connected_component(graph, start)}
        whole = {
            (bank.secondary_node, phase)
            for bank in banks
            if all((bank.primary_node, phase) in energized for phase in bank.phases)
            for phase in bank.phases
        }
        if whole <= energized:
            break
        feeding |= whole
    machines = {
        (one.node, phase)
        for one in network.sources
        if one.kind == "inverter" or (one.kind == "standby" and one.means_of_disconnection != "interlocked")
        for phase in one.phases
    }
    answers = {}
    for part in nx.connected_components(coupled_graph(network, opened)):
        otherwise = Answer.GENERATOR if part & machines else Answer.DEENERGIZED
        for point in part:
            answers[point] = Answer.BACKFED if part & energized else otherwise
    return answers | dict.fromkeys(energized, Answer.ENERGIZED)


@settings(max_examples=300, deadline=None)
@given(states())
def test_every_answer_is_that_of_the_raw_graph(case: tuple[Network, dict[str, str]]) -> None:
    network, opened = case
    state = trace(compile_network(network), opened)
    expected = expected_answers(network, opened)
    assert {point: state.answer(*point) for point in expected} == expected
    for point, answer in expected.items():
        assert bool(state.sources(*point)) == (answer is not Answer.DEENERGIZED)
        assert bool(state.through(*point)) == (answer is Answer.BACKFED)
        assert state.why(*point)


@settings(max_examples=300, deadline=None)
@given(states())
def test_every_premises_has_the_worst_that_its_phases_have(case: tuple[Network, dict[str, str]]) -> None:
    network, opened = case
    expected = expected_answers(network, opened)
    secondary = {one.id: one.secondary_node for one in network.transformers}
    phases = {one.id: one.phases for one in network.transformers}
    found = trace(compile_network(network), opened).premises()
    for premises in network.premises:
        served = premises.phases or phases[premises.transformer]
        answers = {expected[secondary[premises.transformer], phase] for phase in served}
        state = found[premises.id]
        assert (state.answer is Answer.ENERGIZED) == (answers == {Answer.ENERGIZED})
        assert state.out == (not answers & {Answer.ENERGIZED, Answer.BACKFED})
        assert (state.phases_out == "") == (state.answer is Answer.ENERGIZED)


def assert_it_is_a_way(
    compiled: Compiled, path: LivePath, blocked: Mapping[str, str], limits: set[Point]
) -> None:
    source = compiled.network.source[path.source_id]
    assert [element.kind for element in path.elements[:2]] == ["source", "node"]
    assert path.elements[0].id == source.id
    assert path.elements[1].id == source.node
    graph = coupled_graph(compiled.network, blocked)
    nodes = [element for element in path.elements if element.kind == "node"]
    for start, end in pairwise(nodes):
        assert any(graph.has_edge((start.id, a), (end.id, b)) for a in start.phase for b in end.phase)
    assert {(nodes[-1].id, phase) for phase in path.phases} <= limits
    for element in path.elements:
        if element.kind == "device":
            assert not set(element.phase) & set(blocked[element.id])


@settings(max_examples=300, deadline=None)
@given(states(), st.data())
def test_every_source_that_the_raw_graph_reaches_has_a_way(
    case: tuple[Network, dict[str, str]], data: st.DataObject
) -> None:
    network, blocked = case
    compiled = compile_network(network)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=4))
    graph = coupled_graph(network, blocked)
    reached = {point for start in limits for point in nx.node_connected_component(graph, start)}
    able = {one.id for one in network.sources if any((one.node, phase) in reached for phase in one.phases)}
    interlocked = {one.id for one in network.sources if one.interlocked}
    paths = live_paths(compiled, blocked, limits)
    assert {path.source_id for path in paths} == able - interlocked
    assert {path.source_id for path in told(compiled, blocked, limits)} == able & interlocked
    for path in paths:
        assert_it_is_a_way(compiled, path, blocked, limits)


@settings(max_examples=300, deadline=None)
@given(states(), st.data())
def test_every_device_at_the_edge_over_which_a_source_comes_is_on_a_way(
    case: tuple[Network, dict[str, str]], data: st.DataObject
) -> None:
    network, blocked = case
    compiled = compile_network(network)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=4))
    all_open = {device.id: device.phases for device in network.devices}
    inside = {
        point
        for start in limits
        for point in nx.node_connected_component(raw_graph(network, all_open), start)
    }
    outside = coupled_graph(network, blocked)
    outside.remove_nodes_from(inside)
    live = {(one.node, phase) for one in network.sources if not one.interlocked for phase in one.phases}
    last = {
        (nearest.id, phase)
        for path in live_paths(compiled, blocked, limits)
        for nearest in [element for element in path.elements if element.kind == "device"][-1:]
        for phase in nearest.phase
    }
    for device in network.devices:
        for phase in set(device.phases) - set(blocked[device.id]):
            ends = {(device.from_node, phase), (device.to_node, phase)}
            beyond = ends - inside
            if len(beyond) == 1 and nx.node_connected_component(outside, *beyond) & live:
                assert (device.id, phase) in last


@settings(max_examples=300, deadline=None)
@given(networks(), st.data())
def test_the_fence_is_what_is_first_met(network: Network, data: st.DataObject) -> None:
    compiled = compile_network(network)
    limits = data.draw(st.sets(st.sampled_from(compiled.points), min_size=1, max_size=3))
    graph = coupled_graph(network, {device.id: device.phases for device in network.devices})
    inside = {point for start in limits for point in nx.node_connected_component(graph, start)}
    expected = tuple(
        device.id
        for device in network.devices
        if any(
            ((device.from_node, phase) in inside) != ((device.to_node, phase) in inside)
            for phase in device.phases
        )
    )
    assert fence(compiled, limits) == expected
