"""What may never be joined, from one state to another; the rest is in test_parallels."""

from circuits.core.answers import Answer
from circuits.core.joins import made_before_broken, never_joined
from circuits.core.network import Compiled, Device, Load, Network, Node, Source, compile_network
from circuits.core.parallels import Parallels, parallels
from circuits.core.trace import trace
from tests import networks
from tests.core.test_parallels import banks


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


def two_legs() -> Compiled:
    """
    *ST =[C-1]= tap =[S-1]= other, whose legs derive from B and C
    """
    return compile_network(
        Network(
            nodes=(Node("main", "AB"), Node("tap", "AB"), Node("other", "BC")),
            devices=(
                Device("C-1", "main", "tap", "AB", closed="AB"),
                Device("S-1", "tap", "other", "AB", closed="AB", kind="secondary_tie"),
            ),
            sources=(Source("station", "main", "station", "AB"),),
        )
    )


def test_one_leg_that_stands_open_and_energized_says_nothing_of_the_other() -> None:
    """Leg A of the tie stands closed without voltage, leg B open with it. Then A gets voltage too."""
    compiled = two_legs()
    before, then = (trace(compiled, {"C-1": phases, "S-1": "B"}) for phases in ("A", ""))
    assert never_joined(before, then) == ("unlike phases are joined by S-1: phases A, B and phases B, C",)
    assert never_joined(then, before) == ()


def test_a_second_leg_that_gets_voltage_is_told_though_the_first_has_it() -> None:
    compiled = two_legs()
    before, then = (trace(compiled, {"C-1": phases}) for phases in ("B", ""))
    assert never_joined(before, then) == ("unlike phases are joined by S-1: phases A, B and phases B, C",)


def test_a_leg_that_may_have_been_backfed_and_gets_voltage_is_told() -> None:
    """Through the load in delta A may be backfed from B while C-1 is open on it.

    *ST =[C-1]= tap =(load in delta)     tap -A-[S-1]- other, which derives from B
    """
    compiled = compile_network(
        Network(
            nodes=(Node("main", "AB"), Node("tap", "AB"), Node("other", "B")),
            devices=(
                Device("C-1", "main", "tap", "AB", closed="AB"),
                Device("S-1", "tap", "other", "A", closed="A", kind="secondary_tie"),
            ),
            loads=(Load("K", "tap", "AB", "delta"),),
            sources=(Source("station", "main", "station", "AB"),),
        )
    )
    dead, backfed, then = (trace(compiled, {"C-1": phases}) for phases in ("AB", "A", ""))
    told = ("unlike phases are joined by S-1: phases A, B and phase B",)
    assert backfed.answer("tap", "A") is Answer.BACKFED
    assert never_joined(backfed, then) == told
    assert never_joined(dead, backfed) == ()


def test_stations_are_joined_by_a_tie_only_if_they_are_fit_for_it() -> None:
    def of(compiled: Compiled) -> tuple[str, ...]:
        return never_joined(trace(compiled, {"N-7": "ABC"}), trace(compiled, {}))

    (loop,) = of(networks.two_stations())
    assert loop == (
        "stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C), "
        "not on record as fit to be paralleled"
    )
    assert of(networks.two_stations(first="both", second="both")) == ()


def test_a_loop_of_banks_may_be_closed_only_if_they_turn_the_voltage_alike() -> None:
    def of(compiled: Compiled) -> tuple[str, ...]:
        return never_joined(trace(compiled, {"tie": "ABC"}), trace(compiled, {}))

    # Wye-delta turns it by 30 degrees, wye-wye does not (IEEE C57.12.00, from memory).
    (loop,) = of(banks("wye_grounded-delta", "wye-wye"))
    assert loop.endswith("its banks turn the voltage differently")
    assert of(banks("wye_grounded-delta", "wye-delta")) == ()


def test_the_parallels_of_either_state_may_be_given() -> None:
    state = trace(unlike(), {})
    assert never_joined(state, state, were=Parallels()) == (
        "unlike phases are joined by S-1: phase A and phase B",
    )
    dead = trace(unlike(), {"S-1": "A"})
    assert never_joined(dead, dead, joined=parallels(state)) == never_joined(dead, state)
    assert never_joined(dead, state, joined=Parallels()) == ()
