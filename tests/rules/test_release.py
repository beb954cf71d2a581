"""Releasing: the holder alone, nobody on the line, every ground set off, the statements made."""

import pytest

from clearances.rules.facts import NextStage
from clearances.rules.release import may_release

from .cases import Case, Refusals, clearance

X = "29 CFR 1910.269(m)(3)(x)"


def release(
    *, is_holder: bool = True, told_everyone: bool = True, all_off: bool = True, **changes: object
) -> Refusals:
    return may_release(
        clearance(**{"state": "accepted"} | changes),
        is_holder=is_holder,
        told_everyone=told_everyone,
        all_off=all_off,
    )


STATEMENTS = "The holder has not said that everyone is told and that all are off the line."

CASES = [
    Case(
        "next_stage_unprotected",
        release(next_stages=(NextStage(43, 2, ("F-217 is not reported open on every phase",)),)),
        release(next_stages=(NextStage(43, 2, ()),)),
        about="43",
        text="Stage 2 (clearance 43) follows, and its protection does not stand yet: "
        "F-217 is not reported open on every phase.",
        clause="stages of a job",
        mark="utility rule",
        way_past="Have order 43 isolate first, or call stage 2 off.",
    ),
    Case(
        "not_held",
        release(state="given"),
        release(state="accepted"),
        about="41",
        text="Clearance 41 is given; there is nothing to release.",
        clause="29 CFR 1910.269(m)(2)(i)",
        mark="seen",
        way_past="as it stands",
    ),
    Case(
        "not_the_holder",
        release(is_holder=False),
        release(is_holder=True),
        about="Ana Duarte",
        text="Only Ana Duarte can release clearance 41.",
        clause="29 CFR 1910.269(m)(3)(xi)",
        mark="from memory",
        way_past="Reach Ana Duarte; the desk can enter the release in that name",
    ),
    Case(
        "ground_on",
        release(grounds=("G7 at P-217",)),
        release(grounds=()),
        about="G7 at P-217",
        text="Ground set G7 at P-217 is on.",
        clause=X,
        mark="from memory",
        way_past="Take it off and report it by its number",
    ),
    Case(
        "person_on",
        release(people=("Sal Moreno",)),
        release(people=()),
        about="Sal Moreno",
        text="Sal Moreno is signed on.",
        clause=X,
        mark="from memory",
        way_past="Sal Moreno gets off the line and signs off",
    ),
    Case(
        "statements_missing",
        release(told_everyone=False),
        release(told_everyone=True),
        about="Ana Duarte",
        text=STATEMENTS,
        clause=X,
        mark="from memory",
        way_past="Tell everyone",
    ),
    Case(
        "statements_missing",
        release(all_off=False),
        release(all_off=True),
        about="Ana Duarte",
        text=STATEMENTS,
        clause=X,
        mark="from memory",
        way_past="see that all are off",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_a_frozen_clearance_may_be_released() -> None:
    """Getting off a line that is found energized must not wait for the finding."""
    assert release(state="frozen", voltage=("P-214, phase C",)) == ()


def test_each_person_and_each_ground_set_is_named() -> None:
    refused = release(people=("Sal Moreno", "Lee Abara"), grounds=("G3 at P-214", "G5 at P-215"))
    assert [refusal.about for refusal in refused] == ["G3 at P-214", "G5 at P-215", "Sal Moreno", "Lee Abara"]
