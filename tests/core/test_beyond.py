"""What lies beyond one device, and whether that device is the only way to it: the ground of a field clearance
(29 CFR 1910.269(m)(2)(iii), seen: one crew, its disconnect in sight and under its own control)."""

import networkx as nx
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from circuits.core.beyond import beyond
from circuits.core.isolation import words
from circuits.core.network import Compiled, Network, compile_network
from tests import networks
from tests.core.made_networks import networks as made
from tests.core.made_networks import parts
from tests.core.raw_graph import RawGraph, points


def ways(compiled: Compiled, device: str, phases: str) -> list[str]:
    return [words(compiled, way) for way in beyond(compiled, device, phases).ways]


class TestTheDemo:
    def test_a_transformer_s_own_cutout_is_its_one_disconnect(self, demo: Compiled) -> None:
        found = beyond(demo, "F-210", "A")
        assert found.inside == {("P-210t", "A"), ("T-210s", "A")}
        assert found.ways == ()

    def test_a_tie_of_secondaries_is_a_second_source(self, demo: Compiled) -> None:
        tie, *machines = ways(demo, "F-217", "B")
        assert tie.startswith("feeder 12 > ")
        assert "F-219" in tie
        assert "S-217" in tie
        assert {one.split(" > ")[0] for one in machines} == {"standby GEN-219", "inverter INV-212"}

    def test_so_is_a_roof_inverter(self, demo: Compiled) -> None:
        (way,) = ways(demo, "F-212", "B")
        assert way == "inverter INV-212 > 14 Quarry Lane > D-212 > P-212 (phase B)"

    def test_one_end_of_a_loop_is_not_enough(self, demo: Compiled) -> None:
        (way, *machines) = ways(demo, "C-221", "ABC")
        assert "C-208" in way
        assert {one.split()[0] for one in machines} == {"inverter", "standby"}

    def test_one_phase_of_a_bank_is_fed_from_the_others(self, demo: Compiled) -> None:
        assert all("T-218" in way for way in ways(demo, "F-218", "A"))
        assert ways(demo, "F-218", "A")
        assert beyond(demo, "F-218", "ABC").ways == ()

    def test_a_tap_has_its_cutout_and_all_that_hangs_on_it(self, demo: Compiled) -> None:
        found = beyond(demo, "C-233", "B")
        assert {("P-251", "B"), ("P-253", "B"), ("T-252s", "B"), ("T-253s", "B")} <= found.inside
        assert {phase for _, phase in found.inside} == {"B"}
        assert found.ways == ()


def test_a_device_that_feeds_nothing_has_both_its_sides_beyond_it() -> None:
    compiled = networks.radial_tap()
    without = Network(
        circuits=compiled.network.circuits,
        nodes=compiled.network.nodes,
        devices=compiled.network.devices,
        lines=compiled.network.lines,
        transformers=compiled.network.transformers,
    )
    found = beyond(compile_network(without), "C-301", "B")
    assert {("P-1", "B"), ("P-1a", "B")} <= found.inside
    assert found.ways == ()


def test_a_device_or_phase_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="no device C-999"):
        beyond(networks.radial_tap(), "C-999", "A")
    with pytest.raises(ValueError, match="C-301 has no phase A"):
        beyond(networks.radial_tap(), "C-301", "A")


@given(made(), st.data())
def test_it_is_what_the_raw_graph_joins_to_the_side_that_no_source_reaches(
    network: Network, data: st.DataObject
) -> None:
    """Against networkx, with every other device closed, every coupling an edge and every source counted."""
    assume(network.devices)
    device = data.draw(st.sampled_from(network.devices))
    phases = data.draw(st.sampled_from(parts(device.phases)))
    raw = RawGraph(network)
    graph = raw.coupled({device.id: phases})
    legs = [ends for phase, *ends in raw.legs(device) if phase in phases]
    sides = [
        set().union(*(nx.node_connected_component(graph, ends[side]) for ends in legs)) for side in (0, 1)
    ]
    fed = [{one.id for one in network.sources if side & set(points(one.node, one.phases))} for side in sides]
    found = beyond(compile_network(network), device.id, phases)
    if all(fed):
        stations = [sources & raw.of_stations for sources in fed]
        may_be = [place for place in (0, 1) if not stations[place]] or [0, 1]
        assert found.inside in [sides[place] for place in may_be]
        assert {way.source_id for way in found.ways} in [fed[place] for place in may_be]
    else:
        assert found.inside == set().union(*(side for side, by in zip(sides, fed, strict=True) if not by))
        assert found.ways == ()
