"""Giving a clearance, accepting it, and working under it again after voltage was found."""

from dataclasses import replace
from typing import Any

import pytest

from clearances.rules.facts import CloseOrder, Hit, Point, Step
from clearances.rules.giving import may_accept, may_give, may_work_again

from .cases import BY_C221, C208, ISOLATE, RESTORE, Case, Refusals, clearance


def accept(
    *, is_holder: bool = True, read_back: str = "P-213 to P-218, C-208, C-221", **changes: object
) -> Refusals:
    return may_accept(clearance(**{"state": "given"} | changes), is_holder=is_holder, read_back=read_back)


def again(**changes: object) -> Refusals:
    return may_work_again(clearance(**{"state": "frozen"} | changes))


C330 = Point("C-330", "ABC", "41-1", open="AB", inoperable="AB", tagged="AB")
C330_WHOLE = Point("C-330", "ABC", "41-1", open="ABC", inoperable="ABC", tagged="ABC")
VOLTAGE = ("P-214, phase C",)
TIE_LAST = Step("isolate", 3, "close", "N-7", "ABC", "waiting")

CASES = [
    Case(
        "not_asked",
        may_give(clearance(state="accepted")),
        may_give(clearance()),
        about="41",
        text="Clearance 41 is accepted.",
        clause="29 CFR 1910.269(m)(2)(i)",
        mark="seen",
        way_past="as it stands",
    ),
    Case(
        "order_not_checked",
        may_give(clearance(order_state="draft")),
        may_give(clearance(order_state="checked")),
        about="41",
        text="Order 41 is draft.",
        clause="second person's check of the order",
        mark="utility rule",
        way_past="second person",
    ),
    Case(
        "holder_not_qualified",
        may_give(clearance(now_holds=False)),
        may_give(clearance(now_holds=True)),
        about="Ana Duarte",
        text="Ana Duarte is not qualified to hold a clearance today.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="in the name of somebody who is",
    ),
    Case(
        "earlier_stage_out",
        may_give(clearance(number=43, earlier_stages=(Hit("P-213 to P-218", 41, "Ana Duarte", "555-0141"),))),
        may_give(clearance(number=43, earlier_stages=())),
        about="41",
        text="Clearance 41 (Ana Duarte, 555-0141) of an earlier stage of this job is out.",
        clause="stages of a job",
        mark="utility rule",
        way_past="Ana Duarte releases clearance 41; then this one is given.",
    ),
    Case(
        "pick_up_not_done",
        may_give(clearance(steps=(*ISOLATE, TIE_LAST, *RESTORE))),
        may_give(clearance(steps=(*ISOLATE, replace(TIE_LAST, state="left_out"), *RESTORE))),
        about="N-7",
        text="Step 3 (N-7 ABC) picks load up and is not reported yet; once clearance 41 is given, it is not "
        "given any more.",
        clause="29 CFR 1910.269(m)(2)(i)",
        mark="seen",
        way_past="leave the close out",
    ),
    Case(
        "source_not_blocked",
        may_give(clearance(paths=(BY_C221,))),
        may_give(clearance(paths=())),
        about="ST-1",
        text=(
            "Phases A, B, C are still fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 "
            "(phases A, B, C)."
        ),
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="Open, make inoperable and tag a device on that way",
    ),
    Case(
        "close_ordered",
        may_give(clearance(closing=(CloseOrder("C-208", 42),))),
        may_give(clearance(closing=())),
        about="C-208",
        text="Order 42 has C-208 ordered closed, and that is not reported yet.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="called back before anything is operated",
    ),
    Case(
        "no_points",
        may_give(clearance(points=())),
        may_give(clearance(points=(C208,))),
        about="41",
        text="No isolation point is chosen.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="Choose the points",
    ),
    Case(
        "point_not_complete",
        may_give(clearance(points=(C330,))),
        may_give(clearance(points=(C330_WHOLE,))),
        about="C-330",
        text="C-330 is reported open 2 of 3, inoperable 2 of 3, tagged 2 of 3.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="tag 41-1 hung",
    ),
    Case(
        "not_given",
        accept(state="asked"),
        accept(state="given"),
        about="41",
        text="Clearance 41 is asked, so it can't be accepted.",
        clause="29 CFR 1910.269(m)(2)(i)",
        mark="seen",
        way_past="The desk gives it first",
    ),
    Case(
        "not_the_holder",
        accept(is_holder=False),
        accept(is_holder=True),
        about="Ana Duarte",
        text="Only Ana Duarte, who asked for it, can accept clearance 41.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="by voice with the desk writing down the words",
    ),
    Case(
        "no_read_back",
        accept(read_back="  "),
        accept(read_back="P-213 to P-218, C-208, C-221"),
        about="Ana Duarte",
        text="The limits and points have not been read back.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="Read back the limits and every point",
    ),
    Case(
        "voltage_present",
        accept(voltage=VOLTAGE),
        accept(voltage=()),
        about="P-214, phase C",
        text="Voltage was found at P-214, phase C, and no later test there without.",
        clause="29 CFR 1910.269(m)(3)(vi)",
        mark="from memory",
        way_past="have Ana Duarte test at the same pole again",
    ),
    Case(
        "voltage_present",
        again(voltage=VOLTAGE),
        again(voltage=()),
        about="P-214, phase C",
        text="Voltage was found at P-214, phase C, and no later test there without.",
        clause="29 CFR 1910.269(m)(3)(vi)",
        mark="from memory",
        way_past="Find the source, have it parted",
    ),
    Case(
        "not_frozen",
        again(state="accepted"),
        again(state="frozen"),
        about="41",
        text="Clearance 41 is accepted, not frozen.",
        clause="29 CFR 1910.269(m)(2)(i)",
        mark="seen",
        way_past="as it stands",
    ),
    Case(
        "source_not_blocked",
        again(paths=(BY_C221,)),
        again(paths=()),
        about="ST-1",
        text=(
            "Phases A, B, C are still fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 "
            "(phases A, B, C)."
        ),
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="have somebody look and report",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


@pytest.mark.parametrize(
    ("open_", "inoperable", "tagged", "short"),
    [
        ("ABC", "ABC", "", "tagged 0 of 3"),
        ("ABC", "", "ABC", "inoperable 0 of 3"),
        ("", "", "ABC", "open 0 of 3, inoperable 0 of 3"),
        ("ABC", "BC", "ABC", "inoperable 2 of 3"),
        ("AC", "AC", "AC", "open 2 of 3, inoperable 2 of 3, tagged 2 of 3"),
    ],
)
def test_a_point_counts_only_open_inoperable_and_tagged(
    open_: str, inoperable: str, tagged: str, short: str
) -> None:
    point = Point("C-221", "ABC", "41-2", open=open_, inoperable=inoperable, tagged=tagged)
    (refusal,) = may_give(clearance(points=(C208, point)))
    assert refusal.text == f"C-221 is reported {short}."


def test_three_letters_on_different_phases_block_none() -> None:
    """Open on A, inoperable on B, tagged on C: three reports, and not one phase that blocks."""
    assert Point("C-221", "ABC", "41-2", open="A", inoperable="B", tagged="C").blocking == ""


def test_everything_that_blocks_is_said_at_once() -> None:
    refused = may_give(
        clearance(state="given", order_state="paused", now_holds=False, paths=(BY_C221,), points=())
    )
    assert [refusal.code for refusal in refused] == [
        "not_asked",
        "order_not_checked",
        "holder_not_qualified",
        "source_not_blocked",
        "no_points",
    ]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"paths": (BY_C221,)}, "source_not_blocked"),
        ({"points": (C330,)}, "point_not_complete"),
        ({"closing": (CloseOrder("C-221", 42),)}, "close_ordered"),
        ({"voltage": VOLTAGE}, "voltage_present"),
    ],
)
def test_what_changed_since_the_giving_stands_against_accepting(changes: dict[str, Any], code: str) -> None:
    assert [refusal.code for refusal in accept(**changes)] == [code]


def test_nothing_is_given_where_voltage_was_found() -> None:
    (refusal,) = may_give(clearance(voltage=VOLTAGE))
    assert refusal.text == "Voltage was found at P-214, phase C, and no later test there without."
