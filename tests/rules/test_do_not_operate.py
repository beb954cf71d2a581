"""A device kept open for a customer's electrician: given on a reported open, given back by that person."""

from typing import Any

import pytest

from clearances.rules.do_not_operate import may_give_back_do_not_operate, may_give_do_not_operate

from .cases import Case, Refusals

DNO = "customer's do-not-operate"
CP = "common practice"


def give(**changes: Any) -> Refusals:
    fine: dict[str, Any] = {
        "device": "F-275", "phases": "ABC", "stands_open": "ABC", "inoperable": "ABC", "close_ordered": False,
        "named": True,
    }  # fmt: skip
    return may_give_do_not_operate(**fine | changes)


def give_back(**changes: Any) -> Refusals:
    fine: dict[str, Any] = {
        "number": "DNO-3", "state": "given", "name": "Iris Novak", "given_back_by": "iris  novak",
        "met_by": "Sal Moreno", "met_where": "at the plant's gate",
    }  # fmt: skip
    return may_give_back_do_not_operate(**fine | changes)


CASES = [
    Case(
        "not_open",
        give(stands_open="A", inoperable="A"),
        give(),
        about="F-275",
        text="F-275 is not reported open on B, C.",
        clause=DNO,
        mark=CP,
        way_past="opened and reported",
    ),
    Case(
        "operable",
        give(inoperable="AB"),
        give(),
        about="F-275",
        text="Nothing is reported that keeps F-275 C from being closed.",
        clause=DNO,
        mark=CP,
        way_past="made inoperable",
    ),
    Case(
        "close_ordered",
        give(close_ordered=True),
        give(),
        about="F-275",
        text="F-275 is ordered closed by a step that is not yet reported.",
        clause=DNO,
        mark=CP,
        way_past="call it back before anything is operated",
    ),
    Case(
        "not_named",
        give(named=False),
        give(),
        about="F-275",
        text="For whom it is kept open is not said in full: name, employer and telephone.",
        clause=DNO,
        mark=CP,
        way_past="Ask the person on site",
    ),
    Case(
        "given_back_before",
        give_back(state="given_back"),
        give_back(),
        about="DNO-3",
        text="Do-not-operate DNO-3 was given back before.",
        clause=DNO,
        mark=CP,
        way_past="as it stands",
    ),
    Case(
        "not_the_named_person",
        give_back(given_back_by="the plant's office"),
        give_back(),
        about="DNO-3",
        text="Do-not-operate DNO-3 is Iris Novak's: nobody else gives it back.",
        clause=DNO,
        mark=CP,
        way_past="Meet Iris Novak on site",
    ),
    Case(
        "not_met",
        give_back(met_where=" "),
        give_back(),
        about="DNO-3",
        text="By whom and where Iris Novak was met is not said.",
        clause=DNO,
        mark=CP,
        way_past="a telephone call is no meeting",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refused_for_one_reason_that_has_a_way_past(case: Case) -> None:
    case.check()


def test_a_meeting_has_somebody_of_the_utility_at_it() -> None:
    (refusal,) = give_back(met_by="")
    assert refusal.code == "not_met"
