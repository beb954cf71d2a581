"""The ways of asking one trace agree with each other."""

from dataclasses import replace

import pytest
from hypothesis import given

from circuits.core.network import Device, Network, Node, Source, Transformer, compile_network
from circuits.core.trace import Answer, trace
from tests import networks
from tests.core.made_networks import states


@given(states())
def test_the_premises_one_by_one_and_those_not_energized_are_those_of_all(
    case: tuple[Network, dict[str, str]],
) -> None:
    network, open_phases = case
    state = trace(compile_network(network), open_phases)
    every = state.premises()
    assert set(every) == {premises.id for premises in network.premises}
    fresh = trace(state.compiled, open_phases)
    assert fresh.not_energized() == {
        name: found for name, found in every.items() if found.answer is not Answer.ENERGIZED
    }
    assert {name: fresh.supply_of(name) for name in every} == every
    assert fresh.supply_of("nobody") is None
    assert all(found.why for found in every.values())


@given(states())
def test_the_codes_are_the_places_of_the_answers(case: tuple[Network, dict[str, str]]) -> None:
    network, open_phases = case
    state = trace(compile_network(network), open_phases)
    assert [list(Answer)[code] for code in state.codes.tolist()] == [
        state.answer(*point) for point in state.compiled.points
    ]


def after_many_others(network: Network) -> Network:
    """The same network, with so many nodes before its own that no number of an island is a small one."""
    others = tuple(Node(f"other {number}", "A") for number in range(300))
    return replace(network, nodes=(*others, *network.nodes))


@pytest.mark.parametrize("opened", ["A", "AB", "ABC"])
def test_the_answers_do_not_hang_on_how_much_else_there_is(opened: str) -> None:
    network = networks.three_cutouts("delta-delta").network
    state, same = (
        trace(compile_network(one), {"C-330": opened}) for one in (network, after_many_others(network))
    )
    points = [(node.id, phase) for node in network.nodes for phase in node.phases]
    assert [same.why(*point) for point in points] == [state.why(*point) for point in points]
    assert same.premises() == state.premises()


@pytest.mark.parametrize("order", ["near first", "far first"])
def test_behind_two_cutouts_in_a_row_is_behind_the_nearer(order: str) -> None:
    """
    *ST -- P-1 -[C-1]- P-2 -[C-2]- P-3      both open
    """
    nodes = (Node("P-1", "A"), Node("P-2", "A"), Node("P-3", "A"))
    network = Network(
        nodes=nodes if order == "near first" else nodes[::-1],
        devices=(
            Device("C-1", "P-1", "P-2", "A", closed="A"),
            Device("C-2", "P-2", "P-3", "A", closed="A"),
        ),
        sources=(Source("ST", "P-1", "station", "A"),),
    )
    for one in (network, after_many_others(network)):
        state = trace(compile_network(one), {"C-1": "A", "C-2": "A"})
        assert state.why("P-3", "A") == "de-energized by report: C-2 open"
        assert state.why("P-2", "A") == "de-energized by report: C-1 open"


def test_banks_between_an_island_and_the_station_are_counted_from_none() -> None:
    network = networks.three_cutouts("delta-delta").network
    state = trace(compile_network(network), {})
    station = network.sources[0]
    assert state.rank[state.island_of(station.node, station.phases[0])] == 0
    bank = next(one for one in network.transformers if one.connection == "delta-delta")
    assert state.rank[state.island_of(bank.secondary_node, "A")] == 1


@pytest.mark.parametrize("order", ["near first", "far first"])
def test_a_station_is_named_behind_two_banks_in_a_row(order: str) -> None:
    """
    *ST -- P-1 -(T-1)- P-2 -(T-2)- P-3
    """
    banks = (
        Transformer("T-1", "P-1", "P-2", "ABC", connection="delta-delta", kva=50),
        Transformer("T-2", "P-2", "P-3", "ABC", connection="delta-delta", kva=50),
    )
    compiled = compile_network(
        Network(
            nodes=(Node("P-1", "ABC"), Node("P-2", "ABC"), Node("P-3", "ABC")),
            transformers=banks if order == "near first" else banks[::-1],
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )
    assert trace(compiled, {}).why("P-3", "A") == "energized from ST"


@pytest.mark.parametrize("order", ["P-2 P-3", "P-3 P-2"])
def test_behind_a_section_that_voltage_reaches_from_the_other_station(order: str) -> None:
    """
    *ST-1 -[C-1]- P-2 -[C-2]- P-3 -[C-3]- *ST-2     all three open
    """
    nodes = ("ST-1", *order.split(), "ST-2")
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in nodes),
            devices=(
                Device("C-1", "ST-1", "P-2", "A", closed="A"),
                Device("C-2", "P-2", "P-3", "A", closed="A"),
                Device("C-3", "P-3", "ST-2", "A", closed="A"),
            ),
            sources=(Source("one", "ST-1", "station", "A"), Source("two", "ST-2", "station", "A")),
        )
    )
    state = trace(compiled, {"C-1": "A", "C-2": "A", "C-3": "A"})
    assert state.why("P-2", "A") == "de-energized by report: C-1, C-2 open"
    assert state.why("P-3", "A") == "de-energized by report: C-2, C-3 open"
