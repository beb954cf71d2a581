"""Hot-line holds, do-not-operates and field clearances in the rehearsal of another's order: the same that the
board refuses, said before the day."""

from typing import Any

import pytest

from clearances import rehearsing
from clearances.models import Clearance
from clearances.services import switching
from tests.cast import Cast

from .beside import RECLOSER, Elm, a_do_not_operate, a_field_clearance, a_hold
from .looking import Seen, look
from .said import codes
from .test_pages_all import NEVER

FIRST = "the holder says first whether they stand down or stay, and yes before it is closed again"
TEST_CLOSE = "a test close on people at work, never before the holder has said yes"


@pytest.fixture
def elm(cast: Cast) -> Elm:
    return Elm.present()


def rehearsal(cast: Cast, row: Clearance, more: str = "") -> Seen:
    seen = look(cast.dana, f"/desk/clearances/{row.pk}/rehearsal/{more}")
    assert not NEVER.search(seen.text)
    return seen


def does(seen: Seen) -> dict[str, list[str]]:
    frames: list[dict[str, Any]] = seen.context["frames"]
    return {one["step"]: one["does"] for one in frames if one["does"]}


class TestAHold:
    def test_steps_at_its_device_are_told_as_the_board_refuses_them(self, cast: Cast, elm: Elm) -> None:
        hold = a_hold(cast)
        row = elm.bring(elm.asked(), "told")
        named = f"hot-line hold {hold.number} (Lindqvist)"
        seen = rehearsal(cast, row)
        told = does(seen)
        opens, closes = (
            next(
                step.place
                for half in ("isolate", "restore")
                for step in elm.steps(row, half)
                if (step.device_id, step.operation) == (RECLOSER, operation)
            )
            for operation in ("open", "close")
        )
        assert told[f"Step {opens}"] == [f"R-31 is opened under {named}: {FIRST}."]
        assert f"R-31 is closed under {named}: {TEST_CLOSE}." in told[f"Step {closes}"]
        assert f"R-31 is opened under {named}" in seen.text
        step = next(one for one in elm.steps(row, "isolate") if one.place == opens)
        refused = switching.give_step(
            cast.who(cast.dana), step=step.pk, version=row.version, given_to="Sal", repeated_back=True
        )
        assert codes(refused) == ["hold_not_asked"]

    def test_slips_that_close_on_them_unasked(self, cast: Cast, elm: Elm) -> None:
        hold = a_hold(cast)
        row = elm.bring(elm.asked(), "told")
        seen = rehearsal(cast, row, "slips/")
        named = f"hot-line hold {hold.number} (Lindqvist)"
        assert seen.context["hits"][0] == (
            f"Step 2 closes N-7 instead of checking it open: clearance {row.pk} (Duarte) is hit, "
            f"phases A, B, C at P-282 energized from ST-1; {named} is energized by N-7: {TEST_CLOSE}."
        )
        assert seen.context["concerns"] == [
            f"Steps {step} and 5 swapped: R-31 is closed under {named}: {TEST_CLOSE}." for step in (3, 4)
        ]
        assert "Would concern people who work energized, or a device that nobody operates: 2" in seen.text

    def test_one_that_is_only_asked_for_is_not_there(self, cast: Cast, elm: Elm) -> None:
        a_hold(cast, "asked")
        row = elm.bring(elm.asked(), "order written")
        assert rehearsing.of_job(row).order.beside == ()


class TestWhatNobodyOperates:
    def test_a_do_not_operate(self, cast: Cast, elm: Elm) -> None:
        customer = a_do_not_operate(cast, device=RECLOSER)
        row = elm.bring(elm.asked(), "order written")
        until = f"Iris Novak, met on site, has given back do-not-operate {customer.number}"
        told = [one for said in does(rehearsal(cast, row)).values() for one in said if "nobody" in one]
        assert told == [
            f"R-31, which nobody operates until {until}, {done}."
            for done in ("is checked open", "has a tag taken off", "is closed")
        ]

    def test_a_slip_at_one(self, cast: Cast) -> None:
        """C-280 is taken for C-208, which the restore half closes: voltage on the customer's electrician."""
        a_do_not_operate(cast, device="C-280")
        seen = rehearsal(cast, cast.bring(cast.asked(), "order written"), "slips/")
        (said,) = [one for one in seen.context["concerns"] if one.startswith("C-280 closed for C-208")]
        assert (
            ": C-280, which nobody operates until Iris Novak, met on site, has given back do-not-op" in said
        )
        assert ", is closed" in said

    def test_a_field_clearance_s_disconnect(self, cast: Cast) -> None:
        field = a_field_clearance(cast)
        order = rehearsing.of_job(cast.bring(cast.asked(), "order written")).order
        assert [(one.device, one.until) for one in order.beside] == [  # type: ignore[union-attr]
            ("F-210", f"Ana Duarte has ended field clearance {field.number}")
        ]
