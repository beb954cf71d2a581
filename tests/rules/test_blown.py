"""What dropped twice is closed again after a patrol."""

import pytest

from clearances.rules.blown import may_close_again

from .cases import Case

CASES = [
    Case(
        "patrol_first",
        may_close_again("C-221", blows=2, patrolled=False),
        may_close_again("C-221", blows=2, patrolled=True),
        about="C-221",
        text="C-221 has dropped 2 times since it last held, and nobody has reported a patrol since.",
        clause="patrol after the second blow",
        mark="common practice",
        way_past="Have the line behind C-221 patrolled",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_after_one_blow_it_is_the_operator_s_question() -> None:
    """Cold load or fault: the order is paused with it, and no rule answers it."""
    assert may_close_again("C-221", blows=1, patrolled=False) == ()
