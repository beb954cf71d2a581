"""What may never be joined, from one state to another; the rest is in test_parallels."""

from circuits.core.joins import made_before_broken, never_joined
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


def two_feeders(*stations: str) -> Compiled:
    """Two feeders, of one station or of two (here on record as fit to be paralleled), and the tie between
    their ends."""
    buses = sorted(set(stations))
    return compile_network(
        Network(
            nodes=(*(Node(bus, "A") for bus in buses), Node("one", "A"), Node("two", "A")),
            devices=(
                Device("B-1", stations[0], "one", "A", closed="A"),
                Device("B-2", stations[-1], "two", "A", closed="A"),
                Device("N-7", "one", "two", "A", closed=""),
            ),
            sources=tuple(Source(f"S-{bus}", bus, "station", "A", parallel_group="fit") for bus in buses),
        )
    )


def test_a_tie_is_made_before_broken_between_feeders_of_one_station() -> None:
    """Between two stations it is not, though nothing forbids it where they are fit to be paralleled."""
    for stations, first in ((("ST-1",), True), (("ST-1", "ST-2"), False)):
        compiled = two_feeders(*stations)
        before, then = trace(compiled, {"N-7": "A"}), trace(compiled, {})
        assert never_joined(before, then) == ()
        assert made_before_broken(before, then) is first


def test_what_may_never_be_joined_is_not_made_at_all() -> None:
    compiled = unlike()
    assert not made_before_broken(trace(compiled, {"S-1": "A"}), trace(compiled, {}))
