"""The proof of isolation, against trying every state of the other devices of made-up networks."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.isolation import let_in, live_paths
from circuits.core.network import compile_network
from circuits.core.proving.proof import Proof, Status
from circuits.core.values import letters
from tests.against.test_networkx import assert_it_is_a_way
from tests.core.made_cases import Case, cases
from tests.core.raw_graph import SWITCHED_OVER, Graph, Point, RawGraph, points

ORDER = list(Status)


def said(proof: Proof) -> dict[tuple[str, str], tuple[Status, int]]:
    """Phase and source -> the loudest that the proof says of it, and its opens in a row."""
    found: dict[tuple[str, str], tuple[Status, int]] = {}
    for line in proof.lines:
        entries = [(line.phases, line.source, line.opens)]
        entries += [(phases, source, opens) for source, opens, phases in line.further]
        for phases, source, opens in entries:
            for phase in phases:
                status, fewest = found.get((phase, source), (Status.BLOCKED, opens))
                assert fewest == opens
                found[phase, source] = min(status, line.status, key=ORDER.index), opens
    return found


def as_known(case: Case) -> Graph:
    """The raw graph with what is reported open open, and without what only a customer can see."""
    graph = case.raw.joined(case.opened)
    for coupling in case.raw.couplings:
        if coupling.kind not in ("customer", "second feed"):
            for a, b in combinations(coupling.members, 2):
                graph.add_edge(a, b)
    return graph


def reached(graph: Graph, goals: set[Point]) -> set[Point]:
    """All that hangs together with some of the limits."""
    found: set[Point] = set()
    for goal in goals - found:
        found |= nx.node_connected_component(graph, goal)
    return found


def expected(case: Case) -> dict[tuple[str, str], Status]:
    graphs = as_known(case), case.raw.coupled(case.tagged), case.raw.coupled({})
    found = {}
    for phase in letters({phase for _, phase in case.limits}):
        goals = {point for point in case.limits if point[1] == phase}
        known, worst, every = (reached(graph, goals) for graph in graphs)
        for source in case.network.sources:
            at = set(points(source.node, source.phases))
            unseen = source.kind in SWITCHED_OVER and source.means_of_disconnection in (
                "interlocked",
                "unknown",
            )
            if at & known and not unseen:
                found[phase, source.id] = Status.NOT_BLOCKED
            elif at & worst:
                found[phase, source.id] = Status.NOT_KNOWN
            elif at & every:
                found[phase, source.id] = Status.BLOCKED
    return found


@given(cases())
def test_every_source_of_every_phase_is_what_the_raw_graph_says(case: Case) -> None:
    found = said(case.prove())
    assert {key: status for key, (status, _) in found.items()} == expected(case)
    assert all(opens for status, opens in found.values() if status is Status.BLOCKED)


def fewest_to_close(case: Case, goals: set[Point]) -> dict[str, int]:
    """By trying: the fewest devices to be closed on all their phases until each source is at the work."""
    opened = [device for device, phases in case.opened.items() if phases]
    found: dict[str, int] = {}
    for count in range(len(opened) + 1):
        for closed in combinations(opened, count):
            left = {device: phases for device, phases in case.opened.items() if device not in closed}
            let_in = reached(case.raw.coupled(left), goals)
            for source in case.network.sources:
                if let_in & set(points(source.node, source.phases)):
                    found.setdefault(source.id, count)
    return found


@given(cases())
def test_the_opens_in_a_row_are_the_fewest_that_let_the_source_in_when_closed(case: Case) -> None:
    found = said(case.prove())
    for phase in {phase for _, phase in case.limits}:
        fewest = fewest_to_close(case, {point for point in case.limits if point[1] == phase})
        assert {name: opens for (one, name), (_, opens) in found.items() if one == phase} == fewest


def states_of_the_rest(case: Case) -> Iterator[dict[str, str]]:
    """Every state that the devices may be in, if only the points are sure."""
    devices = [device for device in case.network.devices if set(device.phases) - set(case.tagged[device.id])]
    for count in range(len(devices) + 1):
        for closed in combinations(devices, count):
            names = {device.id for device in closed}
            yield {
                one.id: case.tagged[one.id] if one.id in names else one.phases for one in case.network.devices
            }


@given(cases())
def test_it_stands_if_no_state_of_the_other_devices_lets_a_source_in(case: Case) -> None:
    live = {
        point
        for source in case.network.sources
        if source.id in case.raw.of_stations or source.id in case.raw.machines
        for point in points(source.node, source.phases)
    }
    let_in = any(
        live & reached(case.raw.coupled(state), set(case.limits)) for state in states_of_the_rest(case)
    )
    proof = case.prove()
    assert proof.stands == (not let_in)
    assert bool(proof.broken) == let_in
    assert proof.stands == (not live_paths(compile_network(case.network), case.tagged, case.limits))


@given(cases())
def test_each_line_is_a_way_and_names_the_point_nearest_to_the_work(case: Case) -> None:
    for line in case.prove().lines:
        raw = RawGraph(case.network, {} if line.status is Status.BLOCKED else case.tagged)
        assert_it_is_a_way(raw, line.path, set(case.limits))
        assert line.path.source_id == line.source
        assert line.words.endswith(")")
        assert (line.point == "") == (line.measure is not None) == (line.status is not Status.BLOCKED)
        if line.point:
            assert case.tagged[line.point]
            assert line.point in line.path.devices
            whole = [one for one in line.path.devices if case.tagged[one] == case.network.device[one].phases]
            assert whole == [] or line.point in line.path.devices[line.path.devices.index(whole[-1]) :]
        assert line.refuses <= (line.status is not Status.BLOCKED)


@given(cases())
def test_only_the_points_that_it_names_are_needed_and_no_fewer_than_the_minimum_cut(case: Case) -> None:
    proof = case.prove()
    if not proof.stands:
        return
    named = {line.point for line in proof.lines}
    needed = {device: phases for device, phases in case.tagged.items() if device in named}
    opened = {device: case.opened[device] if device in named else "" for device in case.opened}
    assert replace(case, tagged=needed, opened=opened).prove().stands
    graph: nx.Graph[object] = nx.Graph()
    for a, b, data in case.raw.coupled({}).edges(data=True):
        more = 1 if data["row"][0] == "device" else float("inf")
        known = graph.get_edge_data(a, b, {"capacity": 0})["capacity"]
        graph.add_edge(a, b, capacity=known + more)
    for point in case.limits:
        graph.add_edge("work", point, capacity=float("inf"))
    for source in case.network.sources:
        if source.id in case.raw.of_stations or source.id in case.raw.machines:
            for point in points(source.node, source.phases):
                graph.add_edge("sources", point, capacity=float("inf"))
    if "sources" in graph:
        cut, _ = nx.minimum_cut(graph, "sources", "work")
        assert cut <= sum(len(phases) for phases in needed.values())


@given(cases(), st.data())
def test_what_the_holder_agreed_to_is_told_and_refuses_nothing(case: Case, data: st.DataObject) -> None:
    names = [source.id for source in case.network.sources]
    agreed = data.draw(st.sets(st.sampled_from(names))) if names else set()
    before, after = case.prove(), case.prove(agreed=agreed)
    assert said(before).keys() == said(after).keys()
    for (phase, name), (status, opens) in said(before).items():
        then = status if name not in agreed or status is Status.BLOCKED else Status.NOT_KNOWN
        assert said(after)[phase, name] == (then, opens)
    compiled = compile_network(case.network)
    paths = live_paths(compiled, case.tagged, case.limits)
    assert after.stands is not let_in(compiled, case.tagged, case.limits, agreed)
    assert after.stands == all(path.source_id in agreed for path in paths)
    assert not any(line.refuses for line in after.lines if line.source in agreed)
