"""What customers who are out without planned work are promised."""

import datetime

import pytest

from clearances.rules.troubles import may_promise

from .cases import Case, Refusals

MARK = "common practice"
TOLD = "what customers are told"
NOON = datetime.datetime(2026, 5, 14, 12, tzinfo=datetime.UTC)
HOUR = datetime.timedelta(hours=1)


def promise(
    *,
    ended: str = "",
    back_by: datetime.datetime | None = NOON + HOUR,
    next_word_at: datetime.datetime | None = NOON + HOUR / 2,
) -> Refusals:
    return may_promise(3, ended=ended, back_by=back_by, next_word_at=next_word_at, now=NOON)


CASES = [
    Case(
        "trouble_over",
        promise(ended="11:40"),
        promise(),
        about="3",
        text="Trouble 3 ended at 11:40: its customers are back.",
        clause=TOLD,
        mark=MARK,
        way_past="take the call",
    ),
    Case(
        "promise_past",
        promise(back_by=NOON),
        promise(back_by=NOON + datetime.timedelta(seconds=1)),
        about="3",
        text="Power back by a time that is past.",
        clause=TOLD,
        mark=MARK,
        way_past="Write the day and the time again",
    ),
    Case(
        "next_word_past",
        promise(next_word_at=NOON),
        promise(next_word_at=NOON + datetime.timedelta(seconds=1)),
        about="3",
        text="The next word is promised for a time that is past.",
        clause=TOLD,
        mark=MARK,
        way_past="Write the day and the time again",
    ),
    Case(
        "nothing_promised",
        promise(back_by=None, next_word_at=None),
        promise(back_by=None),
        about="3",
        text="Neither when power is back nor when trouble 3 is spoken of next is said.",
        clause=TOLD,
        mark=MARK,
        way_past="by when customers hear more",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_no_next_word_is_needed_where_power_is_promised_back() -> None:
    assert promise(next_word_at=None) == ()
