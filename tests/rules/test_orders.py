"""Is a written order fit to be checked, and by whom?"""

from dataclasses import replace

import pytest

from clearances.rules.facts import Hit, Path, Step
from clearances.rules.orders import expected_positions, may_check, may_move_step, order_faults

from .cases import BY_C221, C208, C221, ISOLATE, RESTORE, Case, Refusals, clearance

PICTURE = "the board's own picture"
SECOND = "second person's check of the order"
FOLLOW = "Write the order again on the network as it stands"


def faults(
    *,
    steps: tuple[Step, ...] = ISOLATE + RESTORE,
    open_now: dict[str, str] | None = None,
    stay_open: dict[str, str] | None = None,
    planned_paths: tuple[Path, ...] = (),
    joins: tuple[tuple[str, str], ...] = (),
    meets: tuple[Hit, ...] = (),
) -> Refusals:
    return order_faults(
        clearance(points=(C208, C221), steps=steps),
        open_now=open_now or {},
        stay_open=stay_open or {},
        planned_paths=planned_paths,
        joins=joins,
        meets=meets,
    )


def check(*, same_person: bool = False, state: str = "draft") -> Refusals:
    checker = "Dana Reyes" if same_person else "Ines Okafor"
    return may_check(writer="Dana Reyes", checker=checker, same_person=same_person, state=state)


def move(*, same_person: bool = True, state: str = "draft") -> Refusals:
    return may_move_step(writer="Dana Reyes", mover="Ines Okafor", same_person=same_person, state=state)


# N-7 picks load up before the points are opened, and gives it back when they are closed again. It has no tag.
PICK_UP = Step("isolate", 0, "close", "N-7", "ABC", "waiting")
GIVE_BACK = Step("restore", 7, "open", "N-7", "ABC", "waiting")
N7_OPEN = {"N-7": "ABC"}
MEETS = Hit(
    "With the points of both open 40 customers are out whom neither counts", 51, "Bo Lindqvist", "555-0142"
)

# Clearance 42 already holds C-208 open, so the order of 41 only looks at it and tags it.
CHECK_C208 = Step("isolate", 1, "check_open", "C-208", "ABC", "waiting", "41-1")
OPEN_C221 = ISOLATE[1]
WITHOUT_CLOSING_C208 = RESTORE[:3]

CASES = [
    Case(
        "plan_leaves_source",
        faults(planned_paths=(BY_C221,)),
        faults(planned_paths=()),
        about="ST-1",
        text=(
            "With every point of this order open and tagged, phases A, B, C are still fed: feeder 12 > "
            "B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phases A, B, C)."
        ),
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="Add a point on that way",
    ),
    Case(
        "point_without_step",
        faults(
            steps=(
                ISOLATE[0],
                Step("isolate", 2, "open", "C-221", "AC", "waiting"),
                *WITHOUT_CLOSING_C208[:1],
            )
        ),
        faults(),
        about="C-221",
        text="No step opens or checks C-221 phase B.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="Write the order again from the points",
    ),
    Case(
        "step_does_not_follow",
        faults(open_now={"C-208": "B"}),
        faults(open_now={}),
        about="C-208",
        text="C-208 B would already stand open when it is opened.",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "step_does_not_follow",
        faults(steps=(CHECK_C208, OPEN_C221, *WITHOUT_CLOSING_C208), open_now={"C-208": "A"}),
        faults(steps=(CHECK_C208, OPEN_C221, *WITHOUT_CLOSING_C208), open_now={"C-208": "ABC"}),
        about="C-208",
        text="C-208 B, C would stand closed before «check_open».",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "step_does_not_follow",
        faults(steps=ISOLATE),
        faults(),
        about="41",
        text="The order has no restore half.",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "step_does_not_follow",
        faults(stay_open={"C-208": "ABC"}),
        faults(steps=ISOLATE + WITHOUT_CLOSING_C208, stay_open={"C-208": "ABC"}),
        about="C-208",
        text="C-208 A, B, C is held open or normally open, yet the restore half closes it.",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "step_does_not_follow",
        faults(steps=(*ISOLATE, RESTORE[1], RESTORE[0], *RESTORE[2:])),
        faults(),
        about="C-221",
        text="C-221 would be closed before its tag is taken off.",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "step_does_not_follow",
        faults(steps=(PICK_UP, *ISOLATE, *RESTORE, GIVE_BACK), open_now={"N-7": "C"}),
        faults(steps=(PICK_UP, *ISOLATE, *RESTORE, GIVE_BACK), open_now=N7_OPEN),
        about="N-7",
        text="N-7 A, B would stand closed before «close».",
        clause=PICTURE,
        mark="common practice",
        way_past=FOLLOW,
    ),
    Case(
        "joins_unlike_phases",
        faults(joins=(("N-7", "stations ST-1 and ST-2 are paralleled by N-7 (phase A)"),)),
        faults(),
        about="N-7",
        text=(
            "The close of N-7 can't be ordered where it stands: stations ST-1 and ST-2 are paralleled by N-7 "
            "(phase A)."
        ),
        clause="never join unlike phases",
        mark="common practice",
        way_past="Put the step elsewhere in the order",
    ),
    Case(
        "pick_up_meets_other",
        faults(meets=(MEETS,)),
        faults(),
        about="51",
        text=(
            "With the points of both open 40 customers are out whom neither counts (clearance 51, Bo "
            "Lindqvist, 555-0142)."
        ),
        clause="load picked up by a tie",
        mark="common practice",
        way_past="Move the window of one of them",
    ),
    Case(
        "steps_stand",
        move(state="checked"),
        move(),
        about="Ines Okafor",
        text="The order is checked, not a draft: its steps stand where they are.",
        clause=SECOND,
        mark="utility rule",
        way_past="Take the check back first",
    ),
    Case(
        "not_the_writer",
        move(same_person=False),
        move(),
        about="Ines Okafor",
        text="Dana Reyes wrote this order, so nobody else moves its steps.",
        clause=SECOND,
        mark="utility rule",
        way_past="Ask Dana Reyes",
    ),
    Case(
        "checker_is_writer",
        check(same_person=True),
        check(same_person=False),
        about="Dana Reyes",
        text="Dana Reyes wrote this order; another person has to check it.",
        clause=SECOND,
        mark="utility rule",
        way_past="by telephone if need be, to check it under their own name",
    ),
    Case(
        "order_not_draft",
        check(state="paused"),
        check(state="draft"),
        about="Ines Okafor",
        text="The order is paused, not a draft.",
        clause=SECOND,
        mark="utility rule",
        way_past="as it stands",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_a_close_of_what_stands_closed_does_not_follow() -> None:
    (refusal,) = faults(steps=(*ISOLATE, *RESTORE, RESTORE[-1]))
    assert refusal.text == "C-208 A, B, C would stand closed before «close»."


def test_positions_are_expected_step_by_step() -> None:
    steps = (CHECK_C208, OPEN_C221, *WITHOUT_CLOSING_C208)
    assert expected_positions(steps, {"C-208": "ABC"}) == (
        ("ABC", "ABC"),  # C-208 is looked at
        ("", "ABC"),  # C-221 is opened
        ("ABC", "ABC"),  # the tag comes off C-221
        ("ABC", ""),  # C-221 is closed
        ("ABC", "ABC"),  # the tag comes off C-208, which stays open for clearance 42
    )


def test_a_step_that_was_left_out_moves_nothing() -> None:
    left_out = replace(OPEN_C221, state="left_out")
    assert expected_positions((left_out,), {"C-221": "A"}) == (("A", "A"),)


def test_a_step_leaves_the_other_phases_of_its_device_alone() -> None:
    one_by_one = tuple(
        Step("isolate", place, "open", "C-208", phase, "waiting") for place, phase in enumerate("BAC", 1)
    )
    close = Step("restore", 4, "close", "C-208", "ABC", "waiting")
    assert expected_positions((*one_by_one, close), {}) == (
        ("", "B"),
        ("", "A"),
        ("", "C"),
        ("ABC", ""),
    )
