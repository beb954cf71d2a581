"""Giving a step: one at a time, from a checked order, nothing closed on a tag, a ground set or a person."""

from dataclasses import replace

import pytest

from clearances.rules.facts import Clearance, Hit, Step, StepOut, Tag
from clearances.rules.steps import as_it_stands, may_give_step
from clearances.rules.words import step_words

from .cases import ISOLATE, RESTORE, Case, Refusals, clearance, with_states

PICTURE = "the board's own picture"
XIII = "29 CFR 1910.269(m)(3)(xiii)"
STEPWISE = "one step at a time"


def give(
    step: Step,
    under: Clearance | None = None,
    *,
    tags: tuple[Tag, ...] = (),
    open_now: str = "",
    held_by: tuple[Hit, ...] = (),
    hits: tuple[Hit, ...] = (),
    out_there: tuple[StepOut, ...] = (),
    uncounted: tuple[str, ...] = (),
    joins: tuple[str, ...] = (),
    silent: tuple[Hit, ...] = (),
    feeds: tuple[Hit, ...] = (),
) -> Refusals:
    return may_give_step(
        under or clearance(),
        step,
        tags_at_device=tags,
        open_now=open_now,
        held_by=held_by,
        hits=hits,
        out_there=out_there,
        uncounted=uncounted,
        joins=joins,
        silent=silent,
        feeds=feeds,
    )


RELEASED = clearance(
    state="released",
    steps=with_states(ISOLATE, "reported", "reported") + with_states(RESTORE, "reported", "waiting"),
)
AT_RESTORE = with_states(ISOLATE, "reported", "reported") + RESTORE
CLOSE_C221 = RESTORE[1]
CLOSE_C208 = RESTORE[3]
PICK_UP = Step("isolate", 1, "close", "N-7", "ABC", "waiting")
GIVE_BACK = Step("restore", 7, "open", "N-7", "ABC", "waiting")
PICKS_UP = clearance(steps=(PICK_UP, *ISOLATE[1:], *RESTORE), people=("Lee Abara",))
LAST_GIVES_BACK = replace(RELEASED, steps=(*with_states(RELEASED.steps, *["reported"] * 6), GIVE_BACK))
LAST_LEFT = replace(RELEASED, steps=with_states(RELEASED.steps, *["reported"] * 5))
BOS_TAG = Tag("42-1", 42, "Bo Lindqvist", "555-0142", "15:00")
BOS_WORK = Hit("Primary P-207 to P-208, phases A, B, C", 42, "Bo Lindqvist", "555-0142")
CHECK_C208 = replace(ISOLATE[0], operation="check_open")
CHECKS = clearance(steps=(CHECK_C208, *ISOLATE[1:], *RESTORE))


def close(
    step: Step = CLOSE_C221,
    under: Clearance = RELEASED,
    *,
    held_by: tuple[Hit, ...] = (),
    hits: tuple[Hit, ...] = (),
) -> Refusals:
    return give(step, under, open_now="ABC", held_by=held_by, hits=hits)


CASES = [
    Case(
        "tie_in_use",
        give(GIVE_BACK, LAST_GIVES_BACK, feeds=(Hit("N-7", 42, "Bo Lindqvist", "555-0142"),)),
        give(GIVE_BACK, LAST_GIVES_BACK),
        about="N-7",
        text=("N-7 can't be ordered open: clearance 42 (Bo Lindqvist, 555-0142) has load picked up by it."),
        clause="load picked up by a tie",
        mark="common practice",
        way_past="Leave the step out",
    ),
    Case(
        "joins_unlike_phases",
        give(CLOSE_C221, RELEASED, open_now="ABC", joins=("unlike phases are joined by C-221: A and B",)),
        give(CLOSE_C221, RELEASED, open_now="ABC"),
        about="C-221",
        text="C-221 can't be ordered closed: unlike phases are joined by C-221: A and B.",
        clause="never join unlike phases",
        mark="common practice",
        way_past="Leave C-221 open and write the way back again",
    ),
    Case(
        "change_not_confirmed",
        give(RESTORE[0], replace(RELEASED, steps=AT_RESTORE, changes=("Change set 3 is planned only",))),
        give(RESTORE[0], replace(RELEASED, steps=AT_RESTORE)),
        about="41",
        text="Change set 3 is planned only: nothing is closed and no tag comes off before the board knows "
        "how it was built.",
        clause="as left before restore",
        mark="common practice",
        way_past="Ana Duarte confirms it as built or marks it not done",
    ),
    Case(
        "phases_not_as_left",
        give(replace(ISOLATE[0], has="AB"), clearance()),
        give(replace(ISOLATE[0], has="ABC"), clearance()),
        about="C-208",
        text="Step 1 is for C-208 A, B, C, which has A, B now.",
        clause="as left before restore",
        mark="common practice",
        way_past="Write the order again on the network as it was left",
    ),
    Case(
        "order_not_checked",
        give(ISOLATE[0], clearance(order_state="paused")),
        give(ISOLATE[0], clearance(order_state="checked")),
        about="41",
        text="Order 41 is paused; no step may be given.",
        clause="second person's check of the order",
        mark="utility rule",
        way_past="Have a second person check",
    ),
    Case(
        "step_unreported",
        give(ISOLATE[1], clearance(steps=with_states(ISOLATE, "given") + RESTORE)),
        give(ISOLATE[1], clearance(steps=with_states(ISOLATE, "reported") + RESTORE)),
        about="C-208",
        text="Step 1 (C-208 ABC) is given and not yet reported.",
        clause=STEPWISE,
        mark="utility rule",
        way_past="Have it reported, or call it back",
    ),
    Case(
        "step_out_of_order",
        give(ISOLATE[1], clearance()),
        give(ISOLATE[1], clearance(steps=with_states(ISOLATE, "left_out") + RESTORE)),
        about="C-208",
        text="Step 1 (C-208 ABC) comes before step 2.",
        clause=STEPWISE,
        mark="utility rule",
        way_past="Give step 1 first",
    ),
    Case(
        "life_support_unanswered",
        give(ISOLATE[0], clearance(unanswered=("22 Quarry Lane",))),
        give(ISOLATE[0], clearance(unanswered=())),
        about="22 Quarry Lane",
        text="Life-support at 22 Quarry Lane: no person has answered yet.",
        clause="life-support contact",
        mark="common practice",
        way_past="Reach a person there by telephone or at the door",
    ),
    Case(
        "device_being_operated",
        give(ISOLATE[0], out_there=(StepOut(42, 7, "C-208", "Lee Abara"),)),
        give(ISOLATE[0], out_there=()),
        about="C-208",
        text="C-208 is being operated: step 7 of order 42 is given to Lee Abara and not yet reported.",
        clause=STEPWISE,
        mark="utility rule",
        way_past="Have that step reported",
    ),
    Case(
        "customers_not_counted",
        give(ISOLATE[0], uncounted=("1 Elm Street", "2 Elm Street", "3 Elm Street", "4 Elm Street")),
        give(ISOLATE[0], uncounted=()),
        about="C-208",
        text="This step would take out 4 customers whom nobody counted when the order was checked: "
        "1 Elm Street, 2 Elm Street, 3 Elm Street and others.",
        clause="life-support contact",
        mark="common practice",
        way_past="have the order checked again",
    ),
    Case(
        "position_not_as_expected",
        give(CHECK_C208, CHECKS, open_now="AB"),
        give(CHECK_C208, CHECKS, open_now="ABC"),
        about="C-208",
        text="C-208 ABC does not stand open on every phase on the board, so step 1 does not follow.",
        clause=PICTURE,
        mark="common practice",
        way_past="Have the position looked at and reported",
    ),
    Case(
        "isolate_after_given",
        give(ISOLATE[0], clearance(state="accepted")),
        give(ISOLATE[0], clearance(state="asked")),
        about="41",
        text="Clearance 41 is accepted; its isolate half is over.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="Ask for a new clearance",
    ),
    Case(
        "not_released",
        give(RESTORE[0], clearance(state="accepted"), open_now="ABC"),
        give(RESTORE[0], clearance(state="released"), open_now="ABC"),
        about="41",
        text="Clearance 41 is not released by Ana Duarte: no tag comes off and nothing is closed.",
        clause="29 CFR 1910.269(m)(3)(xii)",
        mark="from memory",
        way_past="Ana Duarte releases it",
    ),
    Case(
        "tag_at_point",
        give(CLOSE_C208, LAST_LEFT, open_now="ABC", tags=(BOS_TAG,)),
        give(CLOSE_C208, LAST_LEFT, open_now="ABC", tags=()),
        about="C-208",
        text=(
            "C-208 can't be ordered closed: tag 42-1 is on it (clearance 42, Bo Lindqvist, 555-0142, "
            "promised 15:00)."
        ),
        clause=XIII,
        mark="from memory",
        way_past="Clearance 42 is released by its holder and tag 42-1 is reported off",
    ),
    Case(
        "point_held",
        close(CLOSE_C208, LAST_LEFT, held_by=(Hit("C-208", 42, "Bo Lindqvist", "555-0142"),)),
        close(CLOSE_C208, LAST_LEFT, held_by=()),
        about="C-208",
        text=(
            "C-208 can't be ordered closed: clearance 42 (Bo Lindqvist, 555-0142) is out on it, though no "
            "tag is reported there."
        ),
        clause=XIII,
        mark="from memory",
        way_past="Clearance 42 is released by its holder",
    ),
    Case(
        "ground_on",
        close(under=replace(RELEASED, grounds=("G7 at P-217",))),
        close(under=replace(RELEASED, grounds=())),
        about="G7 at P-217",
        text="C-221 can't be ordered closed: ground set G7 at P-217 is on.",
        clause=XIII,
        mark="from memory",
        way_past="Take it off and report it by its number",
    ),
    Case(
        "person_on",
        close(under=replace(RELEASED, people=("Lee Abara",))),
        close(under=replace(RELEASED, people=())),
        about="Lee Abara",
        text="C-221 can't be ordered closed: Lee Abara is signed on under clearance 41.",
        clause=XIII,
        mark="from memory",
        way_past="Lee Abara gets off the line and signs off",
    ),
    Case(
        "close_energizes",
        close(hits=(BOS_WORK,)),
        close(hits=()),
        about="Primary P-207 to P-208, phases A, B, C",
        text=(
            "Closing C-221 ABC would energize Primary P-207 to P-208, phases A, B, C (clearance 42, Bo "
            "Lindqvist, 555-0142)."
        ),
        clause=XIII,
        mark="from memory",
        way_past="Bo Lindqvist has the people and grounds off and releases clearance 42",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_a_tag_off_or_a_look_is_not_a_close() -> None:
    """Taking one's own tag off leaves the device open, whoever else's tag hangs beside it."""
    under = replace(LAST_LEFT, steps=with_states(LAST_LEFT.steps, *["reported"] * 4, "waiting", "waiting"))
    assert give(RESTORE[2], under, open_now="ABC", tags=(BOS_TAG,), hits=(BOS_WORK,)) == ()


def test_a_tag_and_the_clearance_that_it_belongs_to_are_said_once() -> None:
    held = (Hit("C-208", 42, "Bo Lindqvist", "555-0142"),)
    refused = give(CLOSE_C208, LAST_LEFT, open_now="ABC", tags=(BOS_TAG,), held_by=held)
    assert [refusal.code for refusal in refused] == ["tag_at_point"]


def test_what_is_on_under_the_own_clearance_is_said_once() -> None:
    own = (Hit("ground set G7 at P-217", 41, "Ana Duarte"),)
    refused = close(under=replace(RELEASED, grounds=("G7 at P-217",)), hits=own)
    assert [refusal.code for refusal in refused] == ["ground_on"]


def test_a_holder_without_a_telephone_is_named_all_the_same() -> None:
    refused = give(
        CLOSE_C208,
        LAST_LEFT,
        open_now="ABC",
        tags=(Tag("42-1", 42, "Bo Lindqvist"),),
        hits=(Hit("ground set G3 at P-207", 42, "Bo Lindqvist"),),
    )
    assert [refusal.text for refusal in refused] == [
        "C-208 can't be ordered closed: tag 42-1 is on it (clearance 42, Bo Lindqvist).",
        "Closing C-208 ABC would energize ground set G3 at P-207 (clearance 42, Bo Lindqvist).",
    ]


def test_a_job_called_off_is_restored_like_a_released_one() -> None:
    assert close(under=replace(RELEASED, state="withdrawn")) == ()


def test_the_way_back_waits_for_no_step_of_the_way_out() -> None:
    """A step of the isolate half that was never given does not stand before the restore half."""
    steps = with_states(ISOLATE, "reported", "waiting") + with_states(RESTORE, "waiting")
    assert give(RESTORE[0], clearance(state="withdrawn", steps=steps), open_now="ABC") == ()


def test_what_stands_open_by_now_is_given_as_a_check() -> None:
    assert give(ISOLATE[0], open_now="ABC") == ()
    assert [as_it_stands("open", "AB", now) for now in ("ABC", "A", "")] == ["check_open", "open", "open"]
    assert as_it_stands("close", "AB", "ABC") == "close"


def test_three_uncounted_are_all_named() -> None:
    (refusal,) = give(ISOLATE[0], uncounted=("1 Elm Street", "2 Elm Street"))
    assert refusal.text.endswith(": 1 Elm Street, 2 Elm Street.")


def test_a_close_waits_for_the_roll_call() -> None:
    refused = give(CLOSE_C221, RELEASED, open_now="ABC", silent=(BOS_WORK,))
    assert [one.code for one in refused] == ["holder_silent"]


def test_a_tag_comes_off_by_whatever_phases_it_was_hung_on() -> None:
    assert give(replace(RESTORE[0], has="AB"), replace(RELEASED, steps=AT_RESTORE)) == ()


def test_a_tie_that_picks_load_up_is_closed_on_no_tag_no_ground_and_nobody_else() -> None:
    """Whoever signed on before the giving is at the briefing; a ground set that is on is on."""
    assert give(PICK_UP, PICKS_UP, open_now="ABC") == ()
    on = replace(PICKS_UP, grounds=("G7 at P-217",))
    held = (Hit("N-7", 43, "Bo Lindqvist"),)
    refused = give(PICK_UP, on, open_now="ABC", tags=(BOS_TAG,), held_by=held, hits=(BOS_WORK,))
    assert [one.code for one in refused] == ["tag_at_point", "point_held", "ground_on", "close_energizes"]


def test_a_tie_is_not_closed_on_what_an_earlier_stage_may_have_built() -> None:
    """What is only planned for a clearance that is not given has changed nothing yet."""
    planned = replace(PICKS_UP, changes=("Change set 3 is planned only",))
    assert give(PICK_UP, planned, open_now="ABC") == ()
    perhaps = replace(planned, perhaps_built=planned.changes)
    refused = give(PICK_UP, perhaps, open_now="ABC")
    assert [one.code for one in refused] == ["change_not_confirmed"]
    assert give(ISOLATE[1], replace(perhaps, steps=perhaps.steps[1:])) == ()


def test_on_the_way_back_no_check_is_taken_back_for_who_is_not_counted() -> None:
    """The order is begun: what is left of it is written again."""
    back = replace(PICK_UP, half="restore", operation="open")
    (refusal,) = give(back, replace(RELEASED, steps=(back,)), uncounted=("1 Elm Street",))
    assert refusal.way_past.startswith("Put back first what feeds them, or write the way back again")


def test_a_step_without_a_tag_says_so() -> None:
    """It opens a tie again, or a switch so that the tie carries no more than it may."""
    said = [
        step_words(operation=operation, device="N-7", kind="gang_switch", phases="ABC", where="P-287", tag="")
        for operation in ("open", "check_open", "close")
    ]
    assert said == [
        "Open N-7 A, B, C at P-287; no tag",
        "Check open N-7 A, B, C at P-287; no tag",
        "Close N-7 A, B, C at P-287",
    ]
