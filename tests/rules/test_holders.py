"""Who may be in charge: at one site at a time, and, of another employer, told of it."""

import datetime

import pytest

from clearances.rules.holders import Elsewhere, may_be_in_charge, may_record_exchange, said_at_asking

from .cases import Case, Refusals

DAY = datetime.date(2026, 5, 14)
WEIR_CLOSE = Elsewhere(
    42,
    "P-251 to P-253",
    datetime.datetime.combine(DAY, datetime.time(8, 30)),
    datetime.datetime.combine(DAY, datetime.time(12)),
)


def give(*elsewhere: Elsewhere, uninformed_of: str | None = None) -> Refusals:
    return may_be_in_charge(41, "Ana Duarte", elsewhere=elsewhere, uninformed_of=uninformed_of)


def record(*, is_holder: bool = False, in_full: bool = True, ahead: bool = False) -> Refusals:
    return may_record_exchange("Ana Duarte", is_holder=is_holder, in_full=in_full, ahead=ahead)


CASES = [
    Case(
        "holder_elsewhere",
        give(WEIR_CLOSE),
        give(),
        about="42",
        text="Ana Duarte holds clearance 42 (P-251 to P-253), which has no pole in common with clearance 41: "
        "nobody is in charge at two sites at once.",
        clause="one holder, one site",
        mark="common practice",
        way_past="Ana Duarte releases clearance 42 first, or somebody else asks for this work; other hours",
    ),
    Case(
        "not_exchanged",
        give(uninformed_of="Keel Line Builders"),
        give(uninformed_of=None),
        about="Ana Duarte",
        text="Ana Duarte works for Keel Line Builders, and it is not recorded that the utility and the "
        "contractor have told each other what they know of the site and of the hazards.",
        clause="29 CFR 1910.269(a)(3)",
        mark="seen",
        way_past="a person of the utility asks for the clearance, holds it and stays at the site (common",
    ),
    Case(
        "own_exchange",
        record(is_holder=True),
        record(),
        about="Ana Duarte",
        text="Ana Duarte can't record the exchange for a clearance of their own.",
        clause="29 CFR 1910.269(a)(3)",
        mark="seen",
        way_past="Whoever told them for the utility",
    ),
    Case(
        "exchange_in_part",
        record(in_full=False),
        record(),
        about="Ana Duarte",
        text="It is not said in full: with whom, what the utility told, and what the contractor told.",
        clause="29 CFR 1910.269(a)(3)",
        mark="seen",
        way_past="all three",
    ),
    Case(
        "exchange_ahead",
        record(ahead=True),
        record(),
        about="Ana Duarte",
        text="The time at which they told each other lies ahead.",
        clause="29 CFR 1910.269(a)(3)",
        mark="seen",
        way_past="when it has taken place",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_an_employer_who_is_not_on_record_counts_as_another() -> None:
    (refusal,) = give(uninformed_of="")
    assert refusal.text.startswith("Ana Duarte works for an employer who is not on record, and it is not ")


def test_whoever_asks_is_told_the_hours() -> None:
    assert said_at_asking("Ana Duarte", (WEIR_CLOSE,)) == (
        " Ana Duarte also has clearance 42 (P-251 to P-253), 14 May 08:30 to 12:00, with no pole in common: "
        "this one is not given while that one is out."
    )
    assert said_at_asking("Ana Duarte", ()) == ""
