"""What the random days look for is noticed where it happens: steps that were never given, as if they were."""

from collections.abc import Iterator

import pytest

from clearances.models import Step
from notifications import wakeup
from tests.cast import Cast
from tests.clearances.beside import a_do_not_operate, a_field_clearance, a_hold, answer, stands
from tests.clearances.leaving import built, planned
from tests.stages import Stages

from .given import nothing_against


@pytest.fixture
def cast(stages: Stages, monkeypatch: pytest.MonkeyPatch) -> Iterator[Cast]:
    monkeypatch.setattr(wakeup, "hint", lambda: None)
    stages.enter("the demo")
    yield Cast.present()
    stages.leave()


def as_given(device: str, phases: str, operation: str, order: int = 0) -> Step:
    half = "restore" if operation == "close" and order else "isolate"
    return Step(order_id=order, half=half, place=1, device_id=device, phases=phases, operation=operation)


def noticed(step: Step) -> bool:
    try:
        nothing_against(step)
    except AssertionError:
        return True
    return False


def test_who_works_energized_beyond(cast: Cast) -> None:
    """At his own recloser, and at the breaker farther up; until he has answered."""
    hold = a_hold(cast)
    for device in ("R-31", "B-14"):
        assert noticed(as_given(device, "ABC", "open"))
    assert not noticed(as_given("B-12", "ABC", "open"))
    answer(cast, hold, "stays")
    assert not noticed(as_given("R-31", "ABC", "open"))


def test_whoever_else_has_the_device(cast: Cast) -> None:
    assert not noticed(as_given("F-275", "ABC", "close"))
    a_do_not_operate(cast)
    a_field_clearance(cast)
    assert noticed(as_given("F-275", "ABC", "close"))
    assert noticed(as_given("F-210", "A", "close"))
    assert noticed(as_given("F-210", "A", "open"))


def test_a_clearance_that_a_close_energizes(cast: Cast) -> None:
    """C-208 is one of its points, its tag reported gone."""
    cast.job("accepted")
    stands(cast, "C-208", "open", tag="gone")
    assert not noticed(as_given("C-233", "B", "close"))
    assert noticed(as_given("C-208", "ABC", "close"))


def test_a_tie_whose_sides_are_of_unlike_phases(cast: Cast) -> None:
    clearance = cast.job("working")
    stands(cast, "S-217", "open", "B")
    assert not noticed(as_given("S-217", "B", "close", clearance.pk))
    row = planned(cast, clearance)
    assert noticed(as_given("C-233", "B", "close", clearance.pk))  # the board does not know yet
    built(cast, row)
    assert not noticed(as_given("C-233", "B", "close", clearance.pk))
    assert noticed(as_given("S-217", "B", "close", clearance.pk))
