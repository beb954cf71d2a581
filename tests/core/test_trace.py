"""The ways of asking one trace agree with each other."""

from hypothesis import given

from circuits.core.network import Network, compile_network
from circuits.core.trace import Answer, trace
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
