"""The slips of the example's day that would hurt someone, each found and said in one sentence.

All its orders are rehearsed as one: the isolate halves on the network of that morning, the restore halves on
the network as it was left. Since 7:30 clearance 42 has J-207 lifted and C-208 open.
"""

import pytest

from circuits.core.answers import VOLTAGE
from circuits.core.limits import behind_cutout, between
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.rehearsing.rehearsal import CHECK_OPEN, CLOSE, OPEN, REMOVE_TAG, Crew, Move, Order, Part
from circuits.core.rehearsing.slips import Slip, slips
from tests.core.test_example_after import as_left

ISOLATE = (
    Move("1", "C-208", "ABC", CHECK_OPEN),
    Move("2", "C-221", "ABC", OPEN),
    Move("3", "D-219", "B", OPEN),
    Move("4", "D-212", "B", OPEN),
    Move("5", "F-217", "B", OPEN),
    Move("6", "S-217", "B", OPEN),
)
RESTORE = (
    Move("8", "D-212", "B", REMOVE_TAG),
    Move("9", "D-219", "B", CLOSE),
    Move("10", "C-208", "ABC", REMOVE_TAG),
    Move("11", "C-221", "ABC", CLOSE),
    Move("12", "F-217", "C", CLOSE),
    Move("13", "S-217", "B", REMOVE_TAG),
    Move("14", "J-207", "ABC", CLOSE),
    Move("15", "C-208", "ABC", CLOSE),
)


@pytest.fixture(scope="module")
def day(demo: Compiled) -> Order:
    def inside(nodes: tuple[tuple[str, str], ...]) -> frozenset[tuple[str, str]]:
        return frozenset((node, phase) for node, phases in nodes for phase in phases)

    left = compile_network(as_left(demo.network))
    # Frame 6 is the last of the isolate halves, 7 the line as the work leaves it; from 8 on a frame has the
    # number of its step.
    crews = (
        Crew("clearance 41", inside(between(demo, "P-213", "P-218", "ABC").nodes), first=4, last=7),
        Crew("clearance 42", inside(between(demo, "P-207", "P-208", "ABC").nodes), first=0, last=13),
        Crew("clearance 43", inside(behind_cutout(left, "T-217").nodes), first=7, last=11),
    )
    opened = normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"}
    return Order((Part(demo, ISOLATE), Part(left, RESTORE, {"N-15": "ABC"})), opened, crews)


@pytest.fixture(scope="module")
def found(day: Order) -> tuple[Slip, ...]:
    return slips(day)


def said(found: tuple[Slip, ...], what: str) -> str:
    """The one sentence of a slip."""
    (slip,) = [slip for slip in found if slip.what == what]
    return slip.sentence


def test_step_2_skipped_or_stuck_on_phase_b(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 2 done on phases A, C of C-221, B stuck") == (
        "Step 2 done on phases A, C of C-221, B stuck: clearance 41 is hit, phases A, C at P-213 may be "
        "energized from phase B through bank T-218: voltage not known, phase B at P-213 energized from ST-1."
    )
    assert said(found, "Step 2 left out") == (
        "Step 2 left out: clearance 41 is hit, phases A, B, C at P-213 energized from ST-1."
    )


def test_step_1_done_as_a_close_instead_of_a_check(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 1 closes C-208 instead of checking it open") == (
        "Step 1 closes C-208 instead of checking it open: clearance 42 is hit, "
        "phases A, B, C at P-207 energized from ST-1."
    )


def test_step_3_left_out(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 3 left out") == (
        "Step 3 left out: clearance 41 is hit, "
        "phases A, B, C at P-213 a customer's generator may feed it: GEN-219."
    )


def test_step_6_left_out(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 6 left out") == (
        "Step 6 left out: clearance 43 is hit, phase C at P-217 energized from ST-1; "
        "unlike phases are joined by S-217: phase C and phase B."
    )


def test_step_11_before_41_is_released(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 11 done before clearance 41 is released") == (
        "Step 11 done before clearance 41 is released: clearance 41 is hit, "
        "phases A, B, C at P-215 energized from ST-1."
    )


def test_step_14_before_42_is_released(found: tuple[Slip, ...]) -> None:
    assert said(found, "Step 14 done before clearance 42 is released") == (
        "Step 14 done before clearance 42 is released: clearance 42 is hit, "
        "phases A, B, C at P-207 energized from ST-1."
    )


def test_step_15_too_early_hits_42_only_with_the_old_looped_picture_in_mind(
    demo: Compiled, day: Order, found: tuple[Slip, ...]
) -> None:
    what = "Step 15 done before clearance 42 is released"
    assert what not in {slip.what for slip in found}
    looped = Order((day.parts[0], Part(demo, RESTORE)), day.open_phases, day.crews)
    assert said(slips(looped), what) == (
        f"{what}: clearance 42 is hit, phases A, B, C at P-207 energized from ST-1."
    )


def test_the_tie_closed_as_in_the_old_order(found: tuple[Slip, ...]) -> None:
    assert said(found, "S-217 closed at the end, as it once stood") == (
        "S-217 closed at the end, as it once stood: unlike phases are joined by S-217: phase C and phase B."
    )


def test_c_280_operated_for_c_208_leaves_41_fed_and_takes_280s_customers_out(demo: Compiled) -> None:
    moves = (Move("1", "C-208", "ABC", OPEN), *ISOLATE[1:4])
    inside = between(demo, "P-213", "P-218", "ABC").nodes
    crew = Crew("clearance 41", frozenset((node, phase) for node, phases in inside for phase in phases), 4)
    order = Order((Part(demo, moves),), normally_open(demo.network), (crew,))
    assert said(slips(order), "C-280 opened for C-208 in step 1") == (
        "C-280 opened for C-208 in step 1: clearance 41 is hit, phases A, B, C at P-213 energized from ST-1; "
        "29 customers are out that would not be."
    )


def test_the_dangerous_ones_come_first(found: tuple[Slip, ...]) -> None:
    said = ["crew" if slip.hits else "joined" if slip.joined else "customers" for slip in found]
    assert said == sorted(said, key=["crew", "joined", "customers"].index)
    assert found[0].what == "Step 6 left out"
    worst = [min(VOLTAGE[hit.answer] for hit in slip.hits) for slip in found if slip.hits]
    assert worst == sorted(worst)
