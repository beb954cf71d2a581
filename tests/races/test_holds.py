"""A hot-line hold and a step at its recloser at the same moment: one is given, the other is told of it."""

import time

import pytest

from clearances.models import Clearance, HotLineHold, Step
from clearances.services import holds, switching
from clearances.services.verb import Outcome, Refused
from tests.cast import Cast, done
from tests.clearances.beside import RECLOSER, Elm, a_hold, make_ready

from .conftest import FEW, Race
from .test_races import one_wins, unbroken, version

# What the loser may hear, from the rule or, past it, from the database.
STEP_TOLD = {
    "open": {"hold_not_asked", "no_open_unasked"},
    "close": {"hold_not_reached", "close_energizes_hold", "no_close_unreached"},
}
HOLD_TOLD = {"device_being_operated", "hold_with_no_step_out"}
PAUSE = 0.05  # seconds; a step takes longer to decide than a hold, so the hold sets out later by so many


def waiting(elm: Elm, operation: str) -> tuple[Clearance, Step]:
    """Ana's order with its step at the recloser next: to open it, or to close it after her release."""
    half = "isolate" if operation == "open" else "restore"
    clearance = elm.bring(elm.asked(), "told" if operation == "open" else "released")
    for step in elm.steps(clearance, half):
        if (step.device_id, step.operation) == (RECLOSER, operation):
            return clearance, step
        elm.give_step(clearance, step)
        elm.report_step(step)
    raise AssertionError(f"no step that would {operation} {RECLOSER}")


@pytest.mark.parametrize("operation", ["open", "close"])
def test_a_hold_is_given_while_its_recloser_is_ordered_operated(race: Race, operation: str) -> None:
    race.again("UPDATE clearances_hotlinehold SET state = 'withdrawn'")
    cast: Cast = race.cast
    clearance, step = waiting(Elm(**vars(cast)), operation)
    hold = a_hold(cast, "asked")
    make_ready(cast, hold)
    seen = set()
    for number in range(FEW):
        picture = version(clearance)

        def order(picture: int = picture) -> Outcome:
            return switching.give_step(
                cast.who(cast.dana), step=step.pk, version=picture, given_to="Sal Moreno", repeated_back=True
            )

        def hold_it(pauses: int = number % 8) -> Outcome:
            time.sleep(pauses * PAUSE)
            return holds.give_hold(cast.who(cast.ines), hold=hold.pk)

        outcomes = race.together(order, hold_it)
        winner = one_wins(outcomes)
        (told,) = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
        step.refresh_from_db()
        held = HotLineHold.objects.get(pk=hold.pk).state
        heard = {refusal.code for refusal in told.refusals}
        if winner.entry.verb == "give_step":
            assert (step.state, held) == ("given", "asked")
            assert heard <= HOLD_TOLD
            why = "once more"
            done(
                switching.call_step_back(
                    cast.who(cast.dana), step=step.pk, version=version(clearance), why=why
                )
            )
        else:
            assert (step.state, held) == ("waiting", "given")
            assert heard <= STEP_TOLD[operation]
            race.again(
                "UPDATE clearances_hotlinehold SET state = 'asked', given_at = NULL, given_by_id = NULL"
                f" WHERE id = {hold.pk}"
            )
        seen.add(winner.entry.verb)
    assert seen <= {"give_step", "give_hold"}
    unbroken()
