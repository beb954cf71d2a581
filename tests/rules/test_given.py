"""What no verb takes, whatever it is about: what can't be read, what is too long, times that never were."""

import datetime

import pytest

from clearances.rules.given import unfit

from .cases import Case

MARK = "utility rule"
READ = "the board's log can be read"
UTC = datetime.UTC


CASES = [
    Case(
        "not_legible",
        unfit({"work": "pole\x00"}),
        unfit({"work": "pole\t\r\n\N{LATIN SMALL LETTER E WITH ACUTE}"}),
        about="work",
        text="What is written under «work» holds a character that can not be read (U+0000).",
        clause=READ,
        mark=MARK,
        way_past="Type it again by hand",
    ),
    # Unicode Standard Annex 9: U+202E turns the writing direction, so that 802-C is read as C-208.
    Case(
        "not_legible",
        unfit({"devices": ["C-221", "\u202e802-C"]}),
        unfit({"devices": ["C-221", "C-208"]}),
        about="devices",
        text="What is written under «devices» holds a character that can not be read (U+202E).",
        clause=READ,
        mark=MARK,
        way_past="Type it again by hand",
    ),
    Case(
        "too_long",
        unfit({"made_inoperable": "x" * 1001}),
        unfit({"made_inoperable": "x" * 1000}),
        about="made inoperable",
        text="What is written under «made inoperable» is too long: 1001 characters, at most 1000 fit.",
        clause=READ,
        mark=MARK,
        way_past="Say it in fewer words",
    ),
    Case(
        "too_long",
        unfit({"devices": ["C-208"] * 201}),
        unfit({"devices": ["C-208"] * 200}),
        about="devices",
        text="What is written under «devices» is too long: 201 items, at most 200 fit.",
        clause=READ,
        mark=MARK,
        way_past="Say it in fewer words",
    ),
    Case(
        "no_such_time",
        unfit({"done_at": datetime.datetime(1999, 12, 31, 23, 59, tzinfo=UTC)}),
        unfit({"done_at": datetime.datetime(2000, 1, 1, tzinfo=UTC)}),
        about="done at",
        text="The time under «done at» lies in the year 1999.",
        clause=READ,
        mark=MARK,
        way_past="Write the day and the time again",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_half_of_a_surrogate_pair_is_no_text() -> None:
    """JSON can say it, UTF-8 and PostgreSQL can't."""
    assert [refusal.code for refusal in unfit({"why": "\ud800"})] == ["not_legible"]


def test_what_is_named_within_is_read_as_well() -> None:
    assert unfit({"given": {"device": "N-15", "line": "L-214-215"}}) == ()
    (refusal,) = unfit({"given": {"device": "N\x00-15"}})
    assert refusal.about == "given device"
    assert [one.code for one in unfit({"given": {"de\x07vice": "N-15"}})] == ["not_legible"]
