"""What may never be joined, from one state to another; the rest is in test_parallels."""

from circuits.core.joins import never_joined
from circuits.core.network import Compiled, Device, Network, Node, Source, compile_network
from circuits.core.trace import trace


def unlike() -> Compiled:
    """A secondary tie between legs that derive from A and from B, behind a cutout."""
    return compile_network(
        Network(
            nodes=(Node("main", "A"), Node("tap", "A"), Node("other", "B")),
            devices=(
                Device("C-1", "main", "tap", "A", closed="A"),
                Device("S-1", "tap", "other", "A", closed="A", kind="secondary_tie"),
            ),
            sources=(Source("station", "main", "station", "A"),),
        )
    )


def test_a_tie_of_unlike_phases_that_is_closed() -> None:
    compiled = unlike()
    before, then = trace(compiled, {"S-1": "A"}), trace(compiled, {})
    assert never_joined(before, then) == ("unlike phases are joined by S-1: phase A and phase B",)
    assert never_joined(then, before) == ()


def test_one_that_stood_closed_and_is_energized() -> None:
    compiled = unlike()
    before, then = trace(compiled, {"C-1": "A"}), trace(compiled, {})
    assert never_joined(before, then) == ("unlike phases are joined by S-1: phase A and phase B",)
    assert never_joined(then, then) == ()
