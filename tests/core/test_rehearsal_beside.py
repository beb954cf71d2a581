"""People who work energized beyond R-31, and a cutout that nobody operates, beside an order on the demo's
network: what steps and slips do to them."""

import pytest

from circuits.core.limits import between
from circuits.core.network import Compiled, normally_open
from circuits.core.rehearsing.beside import FED, LOST, Concern, concerns
from circuits.core.rehearsing.rehearsal import (
    CHECK_OPEN,
    CLOSE,
    OPEN,
    REMOVE_TAG,
    Hold,
    Move,
    Order,
    Part,
    Untouched,
    rehearse,
)
from circuits.core.rehearsing.slips import Slip, slips

BREAKER = "B-14"
STEPS = (Move("1", "R-31", "ABC", OPEN), Move("2", "R-31", "ABC", CLOSE))
FIRST = "the holder says first whether they stand down or stay, and yes before it is closed again"
TEST_CLOSE = "a test close on people at work, never before the holder has said yes"


@pytest.fixture(scope="module")
def hold(demo: Compiled) -> Hold:
    inside = between(demo, "P-278", "P-279", "ABC").nodes
    return Hold("hold 7", "R-31", frozenset((node, phase) for node, phases in inside for phase in phases))


def order(demo: Compiled, *moves: Move, beside: Hold | Untouched, **opened: str) -> Order:
    stands = normally_open(demo.network) | {name.replace("_", "-"): phases for name, phases in opened.items()}
    return Order((Part(demo, moves),), stands, (), (beside,))


def told(one: Order) -> list[list[str]]:
    """What is told of each frame."""
    return [[said.words for said in concerns(one.beside, frame)] for frame in rehearse(one)]


def by(found: tuple[Slip, ...]) -> dict[str, list[Concern]]:
    return {slip.what: list(slip.concerns) for slip in found if slip.concerns}


def test_an_operation_of_the_hold_s_own_device(demo: Compiled, hold: Hold) -> None:
    assert told(order(demo, *STEPS, beside=hold)) == [
        [],
        [f"R-31 is opened under hold 7: {FIRST}"],
        [f"R-31 is closed under hold 7: {TEST_CLOSE}"],
    ]


def test_it_is_told_though_its_people_lose_nothing_by_it(demo: Compiled, hold: Hold) -> None:
    """Closed over the tie first, the line has a second feed: the tag hangs at R-31 all the same."""
    by_the_tie = order(demo, Move("1", "N-7", "ABC", CLOSE), STEPS[0], beside=hold)
    assert told(by_the_tie)[2] == [f"R-31 is opened under hold 7: {FIRST}"]
    assert not rehearse(by_the_tie)[2].newly_out


def test_an_operation_elsewhere_that_takes_their_supply_or_gives_it_back(demo: Compiled, hold: Hold) -> None:
    moves = (Move("1", BREAKER, "ABC", OPEN), Move("2", BREAKER, "ABC", CLOSE))
    assert told(order(demo, *moves, beside=hold)) == [
        [],
        [f"hold 7 loses its supply by {BREAKER}: {FIRST}"],
        [f"hold 7 is energized by {BREAKER}: {TEST_CLOSE}"],
    ]


def test_a_check_or_a_tag_at_their_device_does_nothing_to_them(demo: Compiled, hold: Hold) -> None:
    looks = (Move("1", "R-31", "ABC", CHECK_OPEN), Move("2", "R-31", "ABC", REMOVE_TAG))
    assert told(order(demo, *looks, beside=hold, R_31="ABC")) == [[], [], []]


def test_what_the_work_itself_leaves_open(demo: Compiled, hold: Hold) -> None:
    """The restore half begins with R-31 open, which no step has opened; what lies elsewhere is no matter."""
    gone = Hold("hold 8", "R-99", frozenset({("P-999", "A")}))
    parts = Part(demo, ()), Part(demo, (), {"R-31": "ABC"})
    played = Order(parts, normally_open(demo.network), (), (hold, gone))
    assert told(played) == [[], [f"hold 7 loses its supply by the work: {FIRST}"]]


@pytest.mark.parametrize(
    ("operation", "done"),
    [
        (OPEN, "is opened"),
        (CLOSE, "is closed"),
        (CHECK_OPEN, "is checked open"),
        (REMOVE_TAG, "has a tag taken off"),
    ],
)
def test_every_step_at_a_device_that_nobody_operates_is_told(
    demo: Compiled, operation: str, done: str
) -> None:
    plant = Untouched("F-275", "Iris Novak has given it back")
    played = order(demo, Move("1", "F-275", "ABC", operation), *STEPS, beside=plant, F_275="ABC")
    assert told(played) == [
        [],
        [f"F-275, which nobody operates until Iris Novak has given it back, {done}"],
        [],
        [],
    ]


class TestSlips:
    def test_what_is_ordered_is_no_slip(self, demo: Compiled, hold: Hold) -> None:
        """R-31 is opened and closed by the order itself: only another device, or a close that comes before
        its turn, was not asked for."""
        found = by(slips(order(demo, *STEPS, beside=hold)))
        assert not [one for one in found if "left out" in one or "stuck" in one]
        assert found["Steps 1 and 2 swapped"] == [Concern(hold, CLOSE, "R-31")]

    def test_their_feed_opened_for_another_and_closed_again(self, demo: Compiled, hold: Hold) -> None:
        """The look-alike kills their line; whoever puts that right closes on them."""
        found = by(slips(order(demo, Move("1", "B-12", "ABC", OPEN), beside=hold)))
        assert found["B-14 opened for B-12 in step 1"] == [Concern(hold, LOST, BREAKER)]

    def test_a_tie_left_out_before_their_device_s_line_is_cut_off(self, demo: Compiled, hold: Hold) -> None:
        """As ordered the line goes over to the tie without a break; without step 1 it goes dead by step 2."""
        moves = (Move("1", "N-7", "ABC", CLOSE), Move("2", BREAKER, "ABC", OPEN))
        played = order(demo, *moves, beside=hold)
        assert told(played) == [[], [], []]
        (slip,) = [one for one in slips(played) if one.what == "Step 1 left out"]
        assert slip.concerns == (Concern(hold, LOST, BREAKER),)
        assert f"hold 7 loses its supply by {BREAKER}: {FIRST}; " in slip.sentence

    def test_a_check_done_as_a_close_puts_voltage_on_them(self, demo: Compiled, hold: Hold) -> None:
        check = Move("1", BREAKER, "ABC", CHECK_OPEN)
        found = by(slips(order(demo, check, beside=hold, **{BREAKER: "ABC"})))
        assert found[f"Step 1 closes {BREAKER} instead of checking it open"] == [Concern(hold, FED, BREAKER)]

    def test_a_device_that_nobody_operates_taken_for_another(self, demo: Compiled) -> None:
        plant = Untouched("C-280", "Iris Novak has given it back")
        found = slips(order(demo, Move("1", "C-208", "ABC", CLOSE), beside=plant, C_208="ABC", C_280="ABC"))
        assert by(found)["C-280 closed for C-208 in step 1"] == [Concern(plant, CLOSE, "C-280")]

    def test_what_is_ordered_there_in_another_turn_is_no_slip(self, demo: Compiled) -> None:
        """Nobody is asked before a step at such a device, so its turn is no matter."""
        plant = Untouched("F-275", "Iris Novak has given it back")
        moves = (STEPS[0], Move("2", "F-275", "ABC", CHECK_OPEN))
        found = slips(order(demo, *moves, beside=plant, F_275="ABC"))
        assert "Steps 1 and 2 swapped" not in by(found)
        assert {one for said in by(found).values() for one in said} == {Concern(plant, CLOSE, "F-275")}

    def test_they_come_after_whoever_is_hit_and_before_what_is_joined(
        self, demo: Compiled, hold: Hold
    ) -> None:
        ranks = [slip.rank for slip in slips(order(demo, *STEPS, beside=hold))]
        assert ranks == sorted(ranks)
        last = Slip("left out", 1, "", (), (), ("unlike phases are joined by S-217",), ("1", "2"))
        concerned = Slip("swapped", 9, "", (), (Concern(hold, CLOSE, "R-31"),), (), ())
        assert concerned.rank < last.rank
