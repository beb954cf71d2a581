"""What lets a source in, and what stands at the edge of limits: by hand on a small network."""

import pytest

from circuits.core.isolation import fence, let_in
from circuits.core.network import Compiled, Device, Network, Node, Source, Transformer, compile_network

LIMITS = [("tap", "AB")]
BOTH_ENDS = {"C-1": "AB", "C-2": "AB"}


@pytest.fixture(scope="module")
def small() -> Compiled:
    """A tap between two cutouts, with a house on a bank from phase to phase, where a machine stands."""
    return compile_network(
        Network(
            nodes=(
                Node("main", "AB"),
                Node("tap", "AB"),
                Node("end", "AB"),
                Node("low", "A"),
                Node("in", "A"),
            ),
            devices=(
                Device("C-1", "main", "tap", "AB", closed="AB"),
                Device("C-2", "tap", "end", "AB", closed=""),
                Device("S-1", "low", "in", "A", closed="A"),
            ),
            transformers=(Transformer("T-1", "tap", "low", "AB", "phase_to_phase"),),
            sources=(
                Source("west", "main", "station", "AB"),
                Source("engine", "in", "generator", "A", means_of_disconnection="manual", device="S-1"),
            ),
        )
    )


def test_a_machine_comes_in_over_its_bank_until_its_own_disconnect_is_a_point(small: Compiled) -> None:
    assert let_in(small, BOTH_ENDS, LIMITS)
    assert not let_in(small, BOTH_ENDS | {"S-1": "A"}, LIMITS)


def test_a_source_that_was_agreed_to_does_not_count_and_the_others_do(small: Compiled) -> None:
    assert not let_in(small, BOTH_ENDS, LIMITS, but={"engine"})
    assert let_in(small, {"C-1": "A", "C-2": "AB"}, LIMITS, but={"engine"})


def test_the_fence_is_each_first_device_whatever_stands_open(small: Compiled) -> None:
    assert fence(small, LIMITS) == ("C-1", "C-2", "S-1")
    assert fence(small, [("tap", "A"), ("main", "A")]) == ("C-1", "C-2", "S-1")  # its phase B is not inside


def test_a_device_with_both_sides_inside_is_not_on_the_fence(small: Compiled) -> None:
    assert fence(small, [("tap", "AB"), ("main", "AB")]) == ("C-2", "S-1")
