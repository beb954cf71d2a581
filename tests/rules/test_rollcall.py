"""The roll-call before a close: silence is a no."""

import pytest

from clearances.rules.facts import Hit
from clearances.rules.rollcall import all_have_answered

from .cases import RESTORE, Case

CLOSE_C221 = RESTORE[1]
BO = Hit("nothing but C-208 would stand between", 42, "Bo Lindqvist", "555-0142")

CASES = [
    Case(
        "holder_silent",
        all_have_answered(CLOSE_C221, (BO,)),
        all_have_answered(CLOSE_C221, ()),
        about="42",
        text="Bo Lindqvist, 555-0142 (clearance 42) has not said yes to closing C-221 ABC: nothing but C-208 "
        "would stand between.",
        clause="roll-call before a close",
        mark="common practice",
        way_past="reach Bo Lindqvist, who looks that everybody is clear and says yes. Silence is a no.",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()
