"""Asking for a clearance: a qualified holder, a window in order and ahead."""

import datetime
from typing import Any

import pytest

from clearances.rules.asking import may_ask
from clearances.rules.facts import Hit

from .cases import Case, Refusals

C = "29 CFR 1910.269(c)"


def at(clock: str) -> datetime.datetime:
    return datetime.datetime.combine(datetime.date(2026, 5, 14), datetime.time.fromisoformat(clock))


def ask(**changes: Any) -> Refusals:
    usual: dict[str, Any] = {
        "holder": "Tom Weir",
        "qualified": True,
        "window_start": at("08:30"),
        "promised_end": at("12:00"),
        "latest_finish": at("13:00"),
        "now": at("07:00"),
    }
    return may_ask(**usual | changes)


CASES = [
    Case(
        "same_limits",
        ask(same_limits=(Hit("at P-214, P-215", 42, "Bo Lindqvist", "555-0142"),)),
        ask(same_limits=()),
        about="42",
        text="Clearance 42 (Bo Lindqvist, 555-0142) has limits in common with these, at P-214, P-215, in the "
        "same hours.",
        clause="29 CFR 1910.269(m)(2)(iv)",
        mark="seen",
        way_past="with Bo Lindqvist in charge for all; or say that your crew has a clearance of its own",
    ),
    Case(
        "holder_not_qualified",
        ask(qualified=False),
        ask(qualified=True),
        about="Tom Weir",
        text="Tom Weir is not qualified to hold a clearance through the latest finish.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="have the qualification entered by the line supervisor",
    ),
    Case(
        "window_out_of_order",
        ask(promised_end=at("08:30")),
        ask(promised_end=at("08:31")),
        about="Tom Weir",
        text="The start, the promised end and the latest finish do not follow one another.",
        clause=C,
        mark="from memory",
        way_past="Correct the times",
    ),
    Case(
        "window_out_of_order",
        ask(latest_finish=at("11:59")),
        ask(latest_finish=at("12:00")),
        about="Tom Weir",
        text="The start, the promised end and the latest finish do not follow one another.",
        clause=C,
        mark="from memory",
        way_past="Correct the times",
    ),
    Case(
        "window_past",
        ask(now=at("12:00")),
        ask(now=at("11:59")),
        about="Tom Weir",
        text="The promised end is already past.",
        clause=C,
        mark="from memory",
        way_past="a window that lies ahead",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()
