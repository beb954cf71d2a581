"""What a telephone may send late: what was seen, never what binds."""

import pytest

from clearances.rules.queued import MAY_WAIT, may_come_late

from .cases import Case

CASES = [
    Case(
        "not_from_a_queue",
        may_come_late("release_clearance", late=True),
        may_come_late("release_clearance", late=False),
        about="release_clearance",
        text="«release_clearance» waited in the telephone: it is not done by what was pressed before.",
        clause="live two-way word",
        mark="common practice",
        way_past="press again",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


@pytest.mark.parametrize("name", sorted(MAY_WAIT))
def test_an_observation_may_wait(name: str) -> None:
    assert may_come_late(name, late=True) == ()
