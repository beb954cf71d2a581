"""The trace against the voltages that OpenDSS finds on unbalanced feeders, made-up and published.

"De-energized by report" must mean no voltage, and "energized" must mean some: 0.1 and 0.4 per unit are wide
of what loads and small machines do. What is possibly backfed may have any voltage, and often has.
"""

import logging
from collections import Counter
from collections.abc import Mapping
from itertools import combinations
from random import Random

import pytest
from hypothesis import settings

from circuits.core.network import (
    Capacitor,
    Compiled,
    Device,
    Load,
    Network,
    Node,
    Premises,
    Source,
    Transformer,
    compile_network,
)
from circuits.core.trace import Answer, trace
from tests.against import ieee13
from tests.against.made_feeders import feeder
from tests.against.opendss_circuit import UNGROUNDED_SECONDARIES, Model, Point

log = logging.getLogger(__name__)


def judged(model: Model, compiled: Compiled, opened: Mapping[str, str]) -> dict[Point, tuple[Answer, float]]:
    """The answer and the voltage of each node-phase; no answer may claim what the voltage denies."""
    state = trace(compiled, opened)
    found = {point: (state.answer(*point), volts) for point, volts in model.voltages(opened).items()}
    for point, (answer, volts) in found.items():
        assert volts < 0.1 or answer is not Answer.DEENERGIZED, (point, volts)
        assert volts > 0.4 or answer is not Answer.ENERGIZED, (point, volts)
    return found


def test_no_wire_that_has_voltage_is_called_deenergized() -> None:
    seen: Counter[tuple[str, str]] = Counter()
    carried: Counter[str] = Counter()
    for seed in range(settings().max_examples):
        model, states = feeder(Random(seed))
        compiled = compile_network(model.network)
        for opened in states:
            state = trace(compiled, opened)
            for point, (answer, volts) in judged(model, compiled, opened).items():
                size = "above 0.9" if volts > 0.9 else "0.1 to 0.9" if volts > 0.1 else "below 0.1"
                seen[answer.name, size] += 1
                if volts > 0.1:
                    carried.update(coupling.kind for coupling, _ in state.through(*point))
    log.info("node-phases by answer and voltage: %s", dict(seen))
    log.info("possibly backfed above 0.1, by what is there: %s", dict(carried))
    assert all(seen["BACKFED", size] for size in ("below 0.1", "0.1 to 0.9", "above 0.9"))
    assert seen["GENERATOR", "0.1 to 0.9"]
    assert carried.keys() == {"bank", "unit", "load", "capacitor", "customer", "second feed"}


def bank(connection: str, phases: str = "ABC", *, common_core: bool = False) -> Network:
    """At n1, with one customer on all that it has."""
    low = Node("s1", phases, 0.208)
    transformer = Transformer("x", "n1", "s1", phases, connection, common_core, kva=100)
    return Network(nodes=(low,), transformers=(transformer,), premises=(Premises("p", "x"),))


def two_feeds() -> Network:
    """A customer who has both the open phase and the live one before the device, while they change over."""
    return Network(
        nodes=(Node("s0", "A", 0.208), Node("s1", "A", 0.208)),
        transformers=(
            Transformer("x", "n1", "s1", "A", "single", kva=100),
            Transformer("y", "n0", "s0", "A", "single", kva=100),
        ),
        premises=(Premises("p", "x", "y", transfer="closed"),),
    )


COUPLINGS = {
    # Half way between the other two phases, as three alike impedances in delta or in a floating wye make it.
    "delta load": (Network(loads=(Load("x", "n1", "ABC", "delta"),)), 0.5),
    "delta capacitor": (Network(capacitors=(Capacitor("x", "n1", "ABC", "delta"),)), 0.5),
    "ungrounded wye capacitor": (Network(capacitors=(Capacitor("x", "n1", "ABC", "wye"),)), 0.5),
    "delta-delta": (bank("delta-delta"), 0.5),
    "delta-wye_grounded": (bank("delta-wye_grounded"), 0.5),
    "wye-wye": (bank("wye-wye"), 0.5),
    "wye-delta": (bank("wye-delta"), 0.5),
    "wye_grounded-wye": (bank("wye_grounded-wye"), 0.5),
    "three-phase customer": (bank("wye_grounded-wye_grounded"), 0.5),
    # The potential of the phase at its other end.
    "phase_to_phase": (bank("phase_to_phase", "AB"), 1.0),
    "two-phase delta load": (Network(loads=(Load("x", "n1", "AC", "delta"),)), 1.0),
    # The closed delta makes the third phase of the other two.
    "wye_grounded-delta": (bank("wye_grounded-delta"), 1.0),
    "common core": (bank("wye_grounded-wye_grounded", common_core=True), 1.0),
    "two feeds": (two_feeds(), 1.0),
    # Behind the one winding that is left stands half of the motor's triangle.
    "open_wye-open_delta": (bank("open_wye-open_delta", "AB"), 0.5),
}


@pytest.mark.parametrize("name", COUPLINGS)
def test_each_coupling_really_brings_voltage_to_an_open_phase(name: str) -> None:
    """
    *station == n0 =[d]= n1 == x      phase A of d is open
    """
    hung, expected = COUPLINGS[name]
    network = Network(
        nodes=(Node("n0", "ABC"), Node("n1", "ABC"), *hung.nodes),
        devices=(Device("d", "n0", "n1", "ABC", closed="ABC"),),
        sources=(Source("station", "n0", "station", "ABC"),),
        transformers=hung.transformers,
        capacitors=hung.capacitors,
        loads=hung.loads,
        premises=hung.premises,
    )
    floating = {one.secondary_node for one in hung.transformers if one.connection in UNGROUNDED_SECONDARIES}
    model = Model(
        network,
        kw={"x": 10, "p": 20},
        joined=frozenset({"p"} if "y" in network.transformer else ()),
        ungrounded=frozenset(floating),
    )
    answer, volts = judged(model, compile_network(network), {"d": "A"})["n1", "A"]
    assert answer is Answer.BACKFED
    assert volts == pytest.approx(expected, abs=0.06)


class TestIeee13NodeFeeder:
    """Its delta loads carry voltage to a phase that has lost its feed."""

    def test_every_state_of_each_cutout(self) -> None:
        model = ieee13.feeder()
        compiled = compile_network(model.network)
        for device in model.network.devices:
            for count in range(len(device.phases) + 1):
                for opened in combinations(device.phases, count):
                    for answer, volts in judged(model, compiled, {device.id: "".join(opened)}).values():
                        # Where this feeder is called backfed, it is.
                        assert volts > 0.1 or answer is not Answer.BACKFED

    def test_the_lateral_to_646_by_hand(self) -> None:
        model = ieee13.feeder()
        compiled = compile_network(model.network)
        delta = 4.16**2 / complex(0.230, -0.132)
        wye = (4.16**2 / 3) / complex(0.170, -0.125)
        answer, volts = judged(model, compiled, {"645": "B"})["646", "B"]
        assert answer is Answer.BACKFED
        assert volts == pytest.approx(abs(wye / (wye + delta)), abs=0.01)
        # Nothing but the delta load hangs on C there: all of B's voltage.
        found = judged(model, compiled, {"645": "C"})
        assert found["646", "C"][0] is Answer.BACKFED
        assert found["646", "C"][1] == pytest.approx(found["646", "B"][1], abs=0.01)

    def test_the_large_delta_load_keeps_the_main_line_between_dead_and_live(self) -> None:
        model = ieee13.feeder()
        compiled = compile_network(model.network)
        for phase in "ABC":
            answer, volts = judged(model, compiled, {"671": phase})["671", phase]
            assert answer is Answer.BACKFED
            assert 0.1 < volts < 0.6
