"""A hot-line hold from its request to its giving back: made like a clearance, of its own kind."""

from dataclasses import replace

import pytest

from clearances.rules.holds import Hold, may_accept_hold, may_ask_for_hold, may_give_back_hold, may_give_hold

from .cases import Case, Refusals

HOLD = "hot-line hold"
CP = "common practice"
I = "29 CFR 1910.269(m)(3)(i)"  # noqa: E741
OTHER_WAY = "feeder 12 > N-7"
ASKED = Hold("HL-7", "asked", "Bo Lindqvist", "R-31", blocked=True, tagged=True, place="P-278 to P-279")
GIVEN = replace(ASKED, state="given")
OUT = replace(ASKED, state="accepted")


def ask(*, qualified: bool = True, closes_by_itself: bool = True, on_the_way: bool = True) -> Refusals:
    return may_ask_for_hold(
        holder="Bo Lindqvist",
        qualified=qualified,
        device="R-31",
        closes_by_itself=closes_by_itself,
        on_the_way=on_the_way,
        place="P-278 to P-279",
    )


def accept(
    hold: Hold = GIVEN, *, is_holder: bool = True, read_back: str = "R-31, P-278 to P-279"
) -> Refusals:
    return may_accept_hold(hold, is_holder=is_holder, read_back=read_back)


def give_back(hold: Hold = OUT, *, is_holder: bool = True, told_everyone: bool = True) -> Refusals:
    return may_give_back_hold(hold, is_holder=is_holder, told_everyone=told_everyone)


CASES = [
    Case(
        "holder_not_qualified",
        ask(qualified=False),
        ask(),
        about="Bo Lindqvist",
        text="Bo Lindqvist is not qualified to hold a hot-line hold today.",
        clause=I,
        mark="seen",
        way_past="in the name of somebody who is",
    ),
    Case(
        "nothing_to_block",
        ask(closes_by_itself=False),
        ask(),
        about="R-31",
        text="R-31 closes neither by itself nor from afar: there is no reclosing to block.",
        clause=HOLD,
        mark=CP,
        way_past="the breaker or recloser that would trip",
    ),
    Case(
        "not_on_the_way",
        ask(on_the_way=False),
        ask(),
        about="R-31",
        text="P-278 to P-279 is not fed through R-31: a hold there would block nothing.",
        clause=HOLD,
        mark=CP,
        way_past="have the network corrected",
    ),
    Case(
        "not_asked",
        may_give_hold(replace(ASKED, state="given_back")),
        may_give_hold(ASKED),
        about="HL-7",
        text="Hot-line hold HL-7 is given back.",
        clause=HOLD,
        mark=CP,
        way_past="as it stands",
    ),
    Case(
        "device_being_operated",
        may_give_hold(replace(ASKED, ordered=True)),
        may_give_hold(ASKED),
        about="R-31",
        text="A step at R-31 is given and not yet reported.",
        clause=HOLD,
        mark=CP,
        way_past="Have that step reported",
    ),
    Case(
        "reclosing_not_off",
        may_give_hold(replace(ASKED, blocked=False)),
        may_give_hold(ASKED),
        about="R-31",
        text="Reclosing at R-31 is not reported off.",
        clause=HOLD,
        mark=CP,
        way_past="turned off and reported",
    ),
    Case(
        "no_hold_tag",
        accept(replace(GIVEN, tagged=False)),
        accept(),
        about="R-31",
        text="No hold tag HL-7 is reported hung at the control of R-31.",
        clause=HOLD,
        mark=CP,
        way_past="hung and reported",
    ),
    Case(
        "fed_another_way",
        may_give_hold(replace(ASKED, fed_too=OTHER_WAY)),
        may_give_hold(ASKED),
        about="R-31",
        text="The line at P-278 to P-279 is fed another way than over R-31: feeder 12 > N-7. What trips "
        "there would close again.",
        clause=HOLD,
        mark=CP,
        way_past="Have that way opened, or reclosing on it turned off under a hold of Bo Lindqvist too",
    ),
    Case(
        "not_given",
        accept(ASKED),
        accept(),
        about="HL-7",
        text="Hot-line hold HL-7 is asked, so it can't be accepted.",
        clause=HOLD,
        mark=CP,
        way_past="The desk gives it first",
    ),
    Case(
        "not_the_holder",
        give_back(is_holder=False),
        give_back(),
        about="Bo Lindqvist",
        text="Hot-line hold HL-7 is Bo Lindqvist's: nobody else can answer for it.",
        clause=HOLD,
        mark=CP,
        way_past="says it by voice and the desk writes it down",
    ),
    Case(
        "no_read_back",
        accept(read_back=" "),
        accept(),
        about="Bo Lindqvist",
        text="The device and the place of the work have not been read back.",
        clause=HOLD,
        mark=CP,
        way_past="Read both back",
    ),
    Case(
        "not_accepted",
        give_back(GIVEN),
        give_back(),
        about="HL-7",
        text="Hot-line hold HL-7 is given, so it can't be given back.",
        clause=HOLD,
        mark=CP,
        way_past="as it stands",
    ),
    Case(
        "crew_not_told",
        give_back(told_everyone=False),
        give_back(),
        about="Bo Lindqvist",
        text="The crew has not been told that reclosing goes back on.",
        clause=HOLD,
        mark=CP,
        way_past="see them off the conductors",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refused_for_one_reason_that_has_a_way_past(case: Case) -> None:
    case.check()


def test_given_to_nobody_whose_qualification_has_run_out_since() -> None:
    (refusal,) = may_give_hold(replace(ASKED, now_holds=False))
    assert refusal.code == "holder_not_qualified"


def test_what_was_undone_between_the_giving_and_the_acceptance_stands_against_it() -> None:
    undone = replace(GIVEN, blocked=False, tagged=False, fed_too=OTHER_WAY)
    assert [one.code for one in accept(undone)] == ["reclosing_not_off", "no_hold_tag", "fed_another_way"]
    assert [one.code for one in accept(is_holder=False)] == ["not_the_holder"]


def test_it_is_given_back_whatever_has_become_of_the_tag() -> None:
    """The way out is never barred by what is missing at the device."""
    assert give_back(replace(OUT, blocked=False, tagged=False, fed_too=OTHER_WAY)) == ()
