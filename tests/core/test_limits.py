"""From pole to pole, as a foreman says it, and every reason why the words may not describe one run."""

import pytest

from circuits.core.limits import NoSuchLimits, behind_cutout, between
from circuits.core.network import (
    Compiled,
    Device,
    Line,
    Network,
    Node,
    Structure,
    Transformer,
    compile_network,
)
from tests.networks import low, node, poles, two_feed_section


def square(**lengths: float) -> Compiled:
    """
    P-1 == P-2        the four sides are 40 m long but for `lengths`;
     |      |         P-4 has another number written on it than its id says,
    P-3 == P-4        P-5 only a secondary node, P-6 an A phase that leads nowhere
    """
    return compile_network(
        Network(
            structures=(*poles(1, 2, 3, 5, 6), Structure("S4", label="P-44"), Structure("X1", label="P-2x")),
            nodes=(
                node("P-1"),
                node("P-2"),
                node("P-3"),
                node("P-4"),
                Node("low", "A", 0.24, "S5"),
                node("P-6", "A"),
            ),
            lines=(
                Line("L12", "P-1", "P-2", "ABC", lengths.get("L12", 40.0)),
                Line("L13", "P-1", "P-3", "ABC", lengths.get("L13", 40.0)),
                Line("L24", "P-2", "P-4", "ABC", lengths.get("L24", 40.0)),
                Line("L34", "P-4", "P-3", "AB", lengths.get("L34", 40.0)),
            ),
        )
    )


def said(compiled: Compiled, start: str, end: str, phases: str) -> str:
    with pytest.raises(NoSuchLimits) as refused:
        between(compiled, start, end, phases)
    return str(refused.value)


def test_the_shortest_run_in_metres_is_taken() -> None:
    limits = between(square(L12=90.0), "P-1", "P-44", "AB")
    assert limits.nodes == (("P-1", "AB"), ("P-3", "AB"), ("P-4", "AB"))
    assert limits.lines == (("L13", "AB"), ("L34", "AB"))


def test_a_way_that_lacks_a_phase_is_no_way() -> None:
    assert between(square(L12=90.0), "P-1", "P-44", "C").lines == (("L12", "C"), ("L24", "C"))


def test_two_equally_short_ways_are_one_too_many() -> None:
    assert said(square(), "P-1", "P-44", "A") == (
        "There is more than one equally short way between P-1 and P-44: give limits that go part of the way."
    )


def test_one_pole_alone() -> None:
    assert between(square(), "P-1", "P-1", "BC").nodes == (("P-1", "BC"),)


def test_one_pole_that_a_device_parts_is_not_one_place() -> None:
    assert said(two_feed_section(), "P-2", "P-2", "A").startswith(
        "P-2 has 2 points of primary, parted by a device"
    )


def test_a_cutout_at_the_end_is_outside_and_one_on_the_way_is_inside() -> None:
    section = two_feed_section()
    assert [one for one, _ in between(section, "P-2", "P-5", "A").nodes] == ["P-2a", "P-3", "P-4", "P-5"]
    assert [one for one, _ in between(section, "P-1", "P-3", "A").nodes] == ["P-1", "P-2", "P-2a", "P-3"]


@pytest.mark.parametrize(
    ("start", "end", "phases", "sentence"),
    [
        ("P-1", "P-99", "A", "There is no pole or other structure P-99."),
        ("P-5", "P-1", "A", "There is no primary at P-5."),
        ("P-1", "P-6", "AB", "The primary at P-6 does not have phases A, B."),
        ("P-1", "P-6", "A", "There is no primary with phase A between P-1 and P-6."),
        ("P-1", "P-2", "BA", "BA is not a set of phases: write A, B, C or several of them."),
        ("P-1", "P-2", "", "Nothing is not a set of phases: write A, B, C or several of them."),
    ],
)
def test_what_is_not_there_is_said(start: str, end: str, phases: str, sentence: str) -> None:
    assert said(square(), start, end, phases) == sentence


def test_a_number_on_two_poles_names_neither() -> None:
    twins = compile_network(
        Network(structures=(Structure("S1", "P-1"), Structure("S2", "P-1")), nodes=(node("P-1"),))
    )
    assert said(twins, "P-1", "P-1", "A") == "More than one structure carries the number P-1: use its id."


def test_two_circuits_on_the_same_poles_are_two_ways() -> None:
    underbuild = compile_network(
        Network(
            structures=poles(1, 2),
            nodes=(node("P-1"), node("P-1a"), node("P-2"), node("P-2a"), low("x", "A")),
            lines=(Line("upper", "P-1", "P-2", "ABC"), Line("lower", "P-1a", "P-2a", "ABC")),
            devices=(Device("C-1", "P-1", "x", "A", closed="A"),),
        )
    )
    assert "more than one equally short way" in said(underbuild, "P-1", "P-2", "A")


def test_the_way_round_may_be_the_shorter_one() -> None:
    assert between(square(L12=150.0), "P-1", "P-2", "A").lines == (("L13", "A"), ("L34", "A"), ("L24", "A"))


def transformers() -> Compiled:
    """
    P-1 -[F-1]- P-1t (T-1) T-1s == house == shed      T-1s -[S-1]- T-2s (T-2) P-1
    """
    return compile_network(
        Network(
            nodes=(
                node("ST"),
                node("P-1"),
                Node("P-1t", "B"),
                *(low(name, "B") for name in ("T-1s", "house", "shed", "T-2s")),
            ),
            lines=(
                Line("far", "shed", "house", "B", 20.0),
                Line("near", "T-1s", "house", "B", 20.0),
                Line("main", "P-1", "ST", "ABC", 20.0),
            ),
            devices=(
                Device("F-1", "P-1", "P-1t", "B", closed="B"),
                Device("S-1", "T-1s", "T-2s", "B", closed="B", kind="secondary_tie"),
            ),
            transformers=(
                Transformer("T-1", "P-1t", "T-1s", "B", "single"),
                Transformer("T-2", "P-1", "T-2s", "B", "single"),
            ),
        )
    )


def test_a_transformer_behind_its_cutout_is_its_unit_and_its_secondary_up_to_the_ties() -> None:
    limits = behind_cutout(transformers(), "T-1")
    assert limits.nodes == (("P-1t", "B"), ("T-1s", "B"), ("house", "B"), ("shed", "B"))
    assert limits.lines == (("near", "B"), ("far", "B"))


@pytest.mark.parametrize(
    ("transformer", "sentence"),
    [
        ("T-9", "There is no transformer T-9."),
        ("T-2", "T-2 hangs on the line without a cutout of its own: give limits on the line."),
    ],
)
def test_a_transformer_without_a_cutout_has_no_limits_of_its_own(transformer: str, sentence: str) -> None:
    with pytest.raises(NoSuchLimits) as refused:
        behind_cutout(transformers(), transformer)
    assert str(refused.value) == sentence
