"""What is connected by phase, held against the example's list of transformers (its totals 23 + 39 = 62
customers and 252.5 kVA) and against two traces, which others judge."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.connected import fed_over, kva_at, kva_behind
from circuits.core.network import Compiled, Network, compile_network, normally_open
from circuits.core.trace import Answer, trace
from tests import networks
from tests.core.made_networks import states
from tests.core.test_example_after import as_left


@pytest.fixture(scope="module")
def left(demo: Compiled) -> Compiled:
    return compile_network(as_left(demo.network))


def test_the_two_halves_of_the_example_as_left(left: Compiled) -> None:
    """T-210 25 A, T-212 37.5 B, T-213 15 C; T-217 25 on C by now, T-218 3x25, T-219 25 B, T-220 50 C."""
    state = trace(left, normally_open(left.network))
    assert kva_behind(state, "C-208") == {"A": 25.0, "B": 37.5, "C": 15.0}
    assert kva_behind(state, "C-221") == {"A": 25.0, "B": 25.0 + 25.0, "C": 25.0 + 25.0 + 50.0}
    both = [kva_behind(state, one) for one in ("C-208", "C-221")]
    assert sum(sum(kva.values()) for kva in both) == 252.5


def test_what_another_way_feeds_too_hangs_on_neither(demo: Compiled) -> None:
    """Before, the section is a loop: opening one end takes nobody out."""
    state = trace(demo, normally_open(demo.network))
    assert kva_behind(state, "C-208") == kva_behind(state, "C-221") == {}


def test_the_way_from_the_station(left: Compiled, demo: Compiled) -> None:
    bank = left.network.transformer["T-217"]
    way = fed_over(left, normally_open(left.network), bank.primary_node, bank.phases)
    assert way == ("B-12", "C-221", "F-217")
    assert fed_over(left, normally_open(left.network) | {"B-12": "ABC"}, bank.primary_node, "C") == ()


def test_a_bank_is_spread_over_its_phases() -> None:
    compiled = networks.sized()
    assert kva_behind(trace(compiled, {}), "C-1") == {"A": 50.0, "B": 25.0, "C": 25.0}
    assert kva_at(compiled, ()) == {}


def test_a_device_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="no device C-999"):
        kva_behind(trace(networks.sized(), {}), "C-999")


@given(states(), st.data())
def test_it_is_what_two_traces_lose(case: tuple[Network, dict[str, str]], data: st.DataObject) -> None:
    network, open_phases = case
    compiled = compile_network(network)
    if not compiled.switches:
        return
    device = data.draw(st.sampled_from(compiled.switches)).device
    before, after = trace(compiled, open_phases), trace(compiled, {**open_phases, device.id: device.phases})
    lost: dict[str, float] = {}
    for one in network.transformers:
        for phase in one.phases:
            at = one.primary_node, phase
            if before.answer(*at) is Answer.ENERGIZED is not after.answer(*at):
                lost[phase] = lost.get(phase, 0.0) + one.kva / len(one.phases)
    assert kva_behind(before, device.id) == pytest.approx({one: kva for one, kva in lost.items() if kva})
