"""Summed loads on networks whose sums a person can do. kVA / 7.2 are the amperes of a phase at 12.47 kV
(arithmetic: 12.47 / sqrt(3) = 7.2)."""

from dataclasses import replace

import pytest

from circuits.core.network import Compiled, Line, Load, Network, Node, Source, Transformer, compile_network
from circuits.core.planning.loading import Loading, Ratings
from circuits.core.trace import trace
from tests import networks


def carried(compiled: Compiled, ratings: Ratings | None = None, **opened: str) -> dict[str, float]:
    """The kVA by line or device and phase, rounded; what carries nothing is left out."""
    loading = Loading(compiled, ratings or Ratings())
    found = loading.carried(
        trace(compiled, {name.replace("_", "-"): letters for name, letters in opened.items()})
    )
    return {
        f"{link.id} {compiled.points[link.start][1]}": round(float(kva), 3)
        for link, kva in zip(loading.links, found, strict=True)
        if kva
    }


def sized(compiled: Compiled, **kva: float) -> Compiled:
    units = tuple(
        replace(one, kva=kva.get(one.id.replace("-", "_"), 0.0)) for one in compiled.network.transformers
    )
    return compile_network(replace(compiled.network, transformers=units))


def test_a_radial_tap_carries_what_hangs_on_it() -> None:
    compiled = sized(networks.radial_tap(), T_3=25, T_4=15)
    found = carried(compiled)
    assert (found["C-301 B"], found["L3 B"], found["L4 B"], found["F-3 B"]) == (40, 40, 15, 25)
    assert not [name for name in found if name.endswith(("A", "C"))]


def test_amperes_and_ratings() -> None:
    compiled = sized(networks.radial_tap(), T_3=72)
    loading = Loading(compiled, Ratings({("device", "C-301"): 40.0}, {("transformer", "T-4"): 7.2}))
    found = loading.carried(trace(compiled, {}))
    number = next(at for at, link in enumerate(loading.links) if link.id == "C-301")
    (one,) = loading.amps(found, [number])
    assert (one.kind, one.phase) == ("device", "B")
    assert one.rating == pytest.approx(40)
    assert one.amps == pytest.approx(11, rel=0.001)
    assert one.words == "C-301 phase B 11 of 40 A"
    line = next(at for at, link in enumerate(loading.links) if link.id == "L3")
    assert next(loading.amps(found, [line])).words == "line L3 phase B 11 of inf A"


def test_round_a_loop_each_side_counts_as_if_all_came_that_way() -> None:
    compiled = sized(networks.two_feed_section(), T_3=30, T_5=60)
    found = carried(compiled)
    assert {found["C-208 A"], found["C-221 A"], found["L34 A"], found["L29 A"]} == {30}
    assert {found["C-208 B"], found["C-221 B"], found["L45 B"]} == {60}
    one_side = carried(compiled, C_208="ABC")
    assert one_side["C-221 B"] == 60
    assert "C-208 B" not in one_side
    assert one_side["L59 A"] == 30


def test_stations_in_parallel_each_count_as_if_alone() -> None:
    compiled = sized(networks.two_feed_section(), T_3=30)
    network = compiled.network
    lines = tuple(line for line in network.lines if line.id != "L29")
    sources = (*network.sources, Source("ST2", "P-9", "station", "ABC"))
    found = carried(compile_network(replace(network, lines=lines, sources=sources)))
    assert found["C-208 A"] == found["C-221 A"] == 30


def test_a_bank_counts_with_its_size_on_each_phase_and_what_is_behind_it_by_itself() -> None:
    """
    *ST == P-1 == P-2 (bank 300) 4 kV == Q-1 --- Q-2 (25, single)
    """
    compiled = compile_network(
        Network(
            nodes=(
                Node("P-1", "ABC"), Node("P-2", "ABC"), Node("Q-1", "ABC", 4.16), Node("Q-2", "A", 4.16),
                Node("low", "A", 0.24),
            ),
            lines=(Line("l1", "P-1", "P-2", "ABC"), Line("l2", "Q-1", "Q-2", "A")),
            transformers=(
                Transformer("bank", "P-2", "Q-1", "ABC", "wye_grounded-delta", kva=300),
                Transformer("unit", "Q-2", "low", "A", "single", kva=25),
            ),
            sources=(Source("ST", "P-1", "station", "ABC"),),
        )
    )  # fmt: skip
    found = carried(compiled)
    assert {found[f"l1 {phase}"] for phase in "ABC"} == {100}
    assert found["l2 A"] == 25
    dead = compile_network(replace(compiled.network, sources=()))
    assert carried(dead) == {}


def test_a_step_transformer_carries_what_is_behind_it() -> None:
    """
    *ST -- P-1 (step) 7.2 kV -- Q-1 (T, 10)
    """
    compiled = compile_network(
        Network(
            nodes=(Node("P-1", "A"), Node("Q-1", "A", 4.16), Node("Q-2", "A", 4.16), Node("low", "A", 0.24)),
            lines=(Line("l2", "Q-1", "Q-2", "A"),),
            transformers=(
                Transformer("step", "P-1", "Q-1", "A", "single", kva=500),
                Transformer("T", "Q-2", "low", "A", "single", kva=10),
            ),
            loads=(Load("mill", "Q-2", "A", "wye"), Load("lamp", "low", "A", "wye")),
            sources=(Source("ST", "P-1", "station", "A"),),
        )
    )
    assert carried(compiled)["step A"] == 10
    peaks = Ratings(peaks={("load", "mill"): 90.0, ("load", "lamp"): 5.0})
    assert carried(compiled, peaks)["step A"] == 100
