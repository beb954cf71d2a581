"""Loops, paralleled sources and unlike phases: drawn ones, and made-up ones against networkx."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.loops import loops
from circuits.core.network import (
    Compiled,
    Device,
    Network,
    Node,
    Source,
    Transformer,
    compile_network,
    normally_open,
)
from circuits.core.parallels import Loop, Parallels, TwoFeeds, UnlikeTie, parallels
from circuits.core.trace import trace
from tests import networks
from tests.core.made_networks import LIKE_PHASES, states
from tests.core.raw_graph import RawGraph


def found(compiled: Compiled, open_phases: Mapping[str, str] | None = None) -> tuple[Loop, ...]:
    return parallels(trace(compiled, open_phases or {})).loops


class TestLoops:
    def test_a_section_fed_from_two_ends_is_a_loop_closed_by_both_cutouts(self) -> None:
        (loop,) = found(networks.two_feed_section())
        assert loop == Loop(phases="ABC", devices=("C-208", "C-221"))
        assert loop.words == "a loop is closed by C-208 and C-221 (phases A, B, C)"

    def test_with_one_phase_of_one_cutout_open_the_loop_is_that_of_the_others(self) -> None:
        (loop,) = found(networks.two_feed_section(), {"C-221": "B"})
        assert (loop.phases, loop.devices) == ("AC", ("C-208", "C-221"))
        assert found(networks.two_feed_section(), {"C-221": "AC", "C-208": "B"}) == ()

    def test_a_loop_of_lines_is_named_by_its_lines(self) -> None:
        (loop,) = found(networks.ring(), {"B-1": "ABC"})
        assert (loop.phases, loop.devices) == ("ABC", ())
        assert loop.others == (("line", "L23"), ("line", "L34"), ("line", "L42"))
        assert loop.words == "a loop is closed by line L23, line L34 and line L42 (phases A, B, C)"

    def test_two_transformers_over_a_closed_secondary_tie(self) -> None:
        (loop,) = found(networks.secondary_tie())
        assert (loop.phases, loop.devices) == ("B", ("F-7", "F-9", "tie"))
        assert found(networks.secondary_tie(), {"tie": "B"}) == ()

    def test_a_jumper_round_a_piece_of_one_section_closes_a_loop_by_itself(self) -> None:
        ends = Node("a", "A"), Node("b", "A")
        transformers = Transformer("T-1", "a", "b", "A", "autotransformer")
        jumper = Device("J-1", "a", "b", "A", closed="A", kind="jumper")
        (loop,) = found(compile_network(Network(nodes=ends, transformers=(transformers,), devices=(jumper,))))
        assert loop.words == "a loop is closed by J-1 (phase A)"

    def test_two_loops_that_only_meet_in_a_section_are_two(self) -> None:
        nodes = tuple(Node(name, "A") for name in "abc")
        ends = ("a", "b"), ("a", "b"), ("b", "c"), ("b", "c")
        devices = tuple(Device(f"d{i}", *pair, "A", closed="A") for i, pair in enumerate(ends))
        assert {loop.devices for loop in found(compile_network(Network(nodes=nodes, devices=devices)))} == {
            ("d0", "d1"),
            ("d2", "d3"),
        }


def banks(first: str, second: str) -> Compiled:
    """
    *ST == P-1 ==(T-1: first)== s1 ==[tie]== s2 ==(T-2: second)== P-1
    """
    phases = "AB" if "open_wye-open_delta" in (first, second) else "ABC"
    return compile_network(
        Network(
            nodes=(Node("P-1", "ABC"), Node("s1", phases, 0.48), Node("s2", phases, 0.48)),
            devices=(Device("tie", "s1", "s2", phases, closed=phases, kind="secondary_tie"),),
            transformers=(
                Transformer("T-1", "P-1", "s1", phases, first),
                Transformer("T-2", "P-1", "s2", phases, second),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )


class TestBanks:
    def test_two_banks_over_a_closed_tie_are_a_loop_through_their_windings(self) -> None:
        (loop,) = found(banks("wye_grounded-delta", "wye-delta"))
        assert loop.words == "a loop is closed by tie, transformer T-1 and transformer T-2 (phases A, B, C)"

    @pytest.mark.parametrize(
        ("first", "second", "differ"),
        [
            ("wye_grounded-delta", "wye_grounded-wye_grounded", True),
            ("wye_grounded-delta", "wye-wye", True),
            ("delta-delta", "delta-wye_grounded", True),
            ("open_wye-open_delta", "wye_grounded-wye_grounded", True),
            ("delta-delta", "wye-wye", False),
            ("wye-delta", "delta-wye_grounded", False),
        ],
    )
    def test_banks_that_turn_the_voltage_differently_are_told(
        self, first: str, second: str, differ: bool
    ) -> None:
        # IEEE C57.12.00 (from memory): wye-delta and delta-wye turn the voltage by 30 degrees, the like by 0.
        (loop,) = found(banks(first, second))
        assert loop.out_of_step == differ
        assert loop.words.endswith("; its banks turn the voltage differently") == differ


class TestSourcesInParallel:
    def test_two_stations_over_the_closed_tie_with_the_devices_between(self) -> None:
        (loop,) = found(networks.two_stations())
        assert loop.words == (
            "stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C), "
            "not on record as fit to be paralleled"
        )

    def test_of_one_parallel_group(self) -> None:
        (loop,) = found(networks.two_stations(first="both", second="both"))
        assert loop.words == "stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C)"

    def test_a_station_without_a_group_is_fit_for_none(self) -> None:
        (loop,) = found(networks.two_stations(first="", second=""))
        assert not loop.like

    def test_without_a_device_between(self) -> None:
        sources = tuple(Source(name, "a", "station", "A") for name in ("ST-1", "ST-2"))
        (loop,) = found(compile_network(Network(nodes=(Node("a", "A"),), sources=sources)))
        assert loop.words == (
            "stations ST-1 and ST-2 are paralleled without a device between (phase A), "
            "not on record as fit to be paralleled"
        )

    def test_not_with_the_tie_open(self) -> None:
        compiled = networks.two_stations()
        assert parallels(trace(compiled, normally_open(compiled.network))).sentences == ()

    def test_machines_that_may_run_beside_a_station(self) -> None:
        compiled = networks.customer_machines()
        assert parallels(trace(compiled, {})).machines == ("unknown", "seen", "roof")
        assert parallels(trace(compiled, {"D-4": "B"})).machines == ("unknown", "roof")


class TestUnlikePhases:
    def test_a_tie_whose_sides_derive_from_two_phases(self) -> None:
        compiled = networks.unlike_tie()
        state = parallels(trace(compiled, {}))
        assert state.unlike == (UnlikeTie("tie", "C", "B"),)
        assert state.sentences == ("unlike phases are joined by tie: phase C and phase B",)

    def test_open_it_joins_nothing(self) -> None:
        assert parallels(trace(networks.unlike_tie(), {"tie": "B"})).unlike == ()

    def test_it_is_told_where_all_is_deenergized_too(self) -> None:
        state = trace(networks.unlike_tie(), {"F-7": "C", "F-9": "B"})
        assert parallels(state).unlike == (UnlikeTie("tie", "C", "B"),)

    def test_a_tie_that_fits_neither_side_is_no_network(self) -> None:
        with pytest.raises(ValueError, match="device tie needs phase A at node T-7s, which has none such"):
            networks.unlike_tie("AC")


class TestTwoFeeds:
    @pytest.mark.parametrize(
        ("transfer", "said"),
        [
            ("closed", "closed transfer"),
            ("automatic", "automatic transfer"),
            ("", "kind of transfer not known"),
        ],
    )
    def test_a_closed_transfer_may_parallel_what_feeds_it(self, transfer: str, said: str) -> None:
        compiled = networks.two_stations(transfer)
        state = parallels(trace(compiled, normally_open(compiled.network)))
        (sentence,) = state.sentences
        assert sentence == (
            f"premises hospital may join T-2 (phase A, ST-1) and T-3 (phase B, ST-2): {said}; "
            "these are unlike phases"
        )

    def test_of_like_phases(self) -> None:
        feeds = ("T-1", "A", ("ST",)), ("T-2", "A", ("ST",))
        assert TwoFeeds("H", "closed", feeds).words == (
            "premises H may join T-1 (phase A, ST) and T-2 (phase A, ST): closed transfer"
        )

    def test_an_open_transfer_never_does_and_neither_does_one_with_a_single_feed_energized(self) -> None:
        compiled = networks.two_stations("open")
        assert parallels(trace(compiled, normally_open(compiled.network))).two_feeds == ()
        compiled = networks.two_stations("closed")
        assert parallels(trace(compiled, {"N-7": "ABC", "B-2": "ABC"})).two_feeds == ()


Thing = tuple[str, str, str]  # kind, id, phase


@dataclass(frozen=True)
class Midst:
    """Where an edge is halved, on either side."""

    edge: Any
    side: int
    number: int


def halved(edges: Iterable[tuple[Any, Any, Any]]) -> "nx.Graph[Any]":
    """Edges (start, end, name) with two points in the midst of each, so that none is a double."""
    graph: nx.Graph[Any] = nx.Graph()
    for number, (start, end, name) in enumerate(edges):
        nx.add_path(graph, [start, Midst(name, 0, number), Midst(name, 1, number), end])
    return graph


def round_about(edges: Iterable[tuple[Any, Any, Thing]]) -> set[Thing]:
    """What lies on some way round."""
    graph = halved(edges)
    alone = {frozenset(bridge) for bridge in nx.bridges(graph)}
    return {
        start.edge
        for start, end in graph.edges
        if isinstance(start, Midst) and isinstance(end, Midst) and frozenset((start, end)) not in alone
    }


@given(st.integers(1, 9), st.data())
def test_loops_are_the_biconnected_components_of_networkx(points: int, data: st.DataObject) -> None:
    point = st.integers(0, points - 1)
    edges = data.draw(st.lists(st.tuples(point, point), max_size=14))
    graph = halved((a, b, number) for number, (a, b) in enumerate(edges))
    expected = {
        frozenset(one.edge for one in part if isinstance(one, Midst))
        for part in nx.biconnected_components(graph)
        if len(part) > 2
    }
    found = loops(points, np.array(edges, dtype=np.int64))
    assert {frozenset(ring) for ring, _ in found} == expected
    assert not any(turned for _, turned in found)


@given(states())
def test_what_is_named_is_all_that_lies_on_a_way_round(case: tuple[Network, dict[str, str]]) -> None:
    """On the raw graph: every closed device and bank phase and every station that is no bridge."""
    network, open_phases = case
    phases_at = {node.id: node.phases for node in network.nodes}
    fixed = [
        ((row.from_node, phase), (row.to_node, phase), (kind, row.id, phase))
        for kind, rows in (("line", network.lines), ("regulator", network.regulators))
        for row in rows
        for phase in row.phases
    ]
    fixed += [
        ((one.primary_node, phase), (one.secondary_node, phase), ("transformer", one.id, phase))
        for one in network.transformers
        for phase in one.phases
        if one.connection in LIKE_PHASES
    ]
    standing = [
        ((one.primary_node, phase), (one.secondary_node, phase), ("transformer", one.id, phase))
        for one in network.transformers
        for phase in one.phases
        if one.connection not in LIKE_PHASES and phase in phases_at[one.secondary_node]
    ]
    standing += [
        (("bus", phase), (one.node, phase), ("station", one.id, phase))
        for one in network.sources
        if one.kind == "station"
        for phase in one.phases
    ]
    switched = [
        (start, end, ("device", device.id, phase))
        for device in network.devices
        for phase, start, end in RawGraph(network).legs(device)
        if phase not in open_phases[device.id]
    ]
    joining = {name for _, _, name in fixed}
    expected = round_about(fixed) | (round_about([*fixed, *standing, *switched]) - joining)
    named = set()
    for loop in parallels(trace(compile_network(network), open_phases)).loops:
        things = {("device", name) for name in loop.devices} | {("station", name) for name in loop.sources}
        named |= {(*thing, phase) for thing in things | set(loop.others) for phase in loop.phases}
    assert named == expected


def test_a_loop_that_was_closed_on_more_phases_is_nothing_new() -> None:
    was = Parallels((Loop("AB", ("C-1", "C-2")),))
    assert Parallels((Loop("A", ("C-1", "C-2")),)).beyond(was) == Parallels()
    assert was.beyond(Parallels((Loop("A", ("C-1", "C-2")),))) == Parallels((Loop("B", ("C-1", "C-2")),))
