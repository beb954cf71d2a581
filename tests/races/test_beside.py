"""Two at once where what is given is no step, or stands beside a clearance: one wins, the other is told."""

import datetime
from functools import partial
from typing import Any

from django.utils import timezone

from clearances.models import Clearance, HotLineHold, Step
from clearances.services import (
    asking,
    calling_off,
    do_not_operates,
    field_clearances,
    giving,
    reporting,
    switching,
)
from clearances.services import holds as hold_verbs
from tests.cast import Cast, done
from tests.clearances.beside import RECLOSER, Elm, a_hold, say

from .conftest import FEW, Race
from .test_races import ChapelRow, chapel_row, one_wins, unbroken, version

HOUR = datetime.timedelta(hours=1)


def give(cast: Cast, step: Step, **by: Any) -> Any:
    said: dict[str, Any] = {"given_to": "Sal Moreno", "repeated_back": True}
    return partial(
        switching.give_step, cast.who(by.get("by", cast.dana)), step=step.pk, version=version_of(step), **said
    )


def version_of(step: Step) -> int:
    return Clearance.objects.values_list("version", flat=True).get(pk=step.order_id)


def isolated(cast: ChapelRow) -> Clearance:
    """Its point open and tagged, and no customer told."""
    clearance = cast.job("checked")
    cast.isolate(clearance)
    return Clearance.objects.get(pk=clearance.pk)


def test_a_hold_is_given_while_its_recloser_is_ordered_open(race: Race) -> None:
    cast = Elm(**vars(race.cast))
    opening = cast.steps(cast.job("told"), "isolate")[0]
    assert opening.device_id == RECLOSER
    hold = a_hold(cast, "asked")
    say(cast, hold, "reclose_off")
    say(cast, hold, "tag_hung")
    for _ in range(FEW):
        winner = one_wins(
            race.together(
                partial(hold_verbs.give_hold, cast.who(cast.ines), hold=hold.pk), give(cast, opening)
            )
        )
        opening.refresh_from_db()
        hold.refresh_from_db()
        won = (winner.entry.verb, opening.state, hold.state)
        assert won in {("give_step", "given", "asked"), ("give_hold", "waiting", "given")}
        race.again(
            f"UPDATE clearances_step SET state = 'waiting', given_at = NULL WHERE id = {opening.pk}",
            "UPDATE clearances_hotlinehold SET state = 'asked', given_at = NULL, given_by_id = NULL",
        )
    race.again("UPDATE clearances_hotlinehold SET state = 'withdrawn'")
    assert not HotLineHold.objects.filter(state="given").exists()
    unbroken()


def test_a_device_is_kept_open_for_a_customer_while_it_is_ordered_closed(race: Race) -> None:
    cast = chapel_row(race)
    clearance = isolated(cast)
    for stage in ("give", "accept", "release"):
        getattr(cast, stage)(Clearance.objects.get(pk=clearance.pk))
    untag, close = cast.steps(clearance, "restore")
    cast.give_step(clearance, untag)
    cast.report_step(untag)
    named = {"name": "Iris Novak", "employer": "Novak Electric", "phone": "555-0177", "work": "a breaker"}
    for _ in range(FEW):
        keep = partial(
            do_not_operates.give_do_not_operate, cast.who(cast.ines), device="C-280", phases="ABC", **named
        )
        winner = one_wins(race.together(keep, give(cast, close)))
        close.refresh_from_db()
        assert (close.state == "given") is (winner.entry.verb == "give_step")
        race.again(
            f"UPDATE clearances_step SET state = 'waiting', given_at = NULL WHERE id = {close.pk}",
            "DELETE FROM clearances_donotoperate",
        )
    unbroken()


def test_a_crew_goes_behind_its_own_cutout_while_a_clearance_is_given_there(race: Race) -> None:
    """Ana's limits are T-291 with its secondary, her point is the tap's cutout; Bo opens T-291's own."""
    cast = chapel_row(race)
    now = timezone.now()
    request: dict[str, Any] = {"transformer": "T-291", "work": "change it", "crew": "line 1"}
    request |= {"window_start": now, "promised_end": now + HOUR, "latest_finish": now + HOUR}
    asked = asking.ask_for_clearance(
        cast.who(cast.ana), reason_for_customers="change it", recall_minutes=20, **request
    )
    clearance = done(asked).entry.clearance
    assert clearance
    cast.isolate(cast.bring(clearance, "checked"))
    opened: dict[str, Any] = {"device": "F-291", "phases": "A", "position": "open"}
    done(reporting.report_position(cast.who(cast.sal), done_at=timezone.now(), **opened))
    start: dict[str, Any] = {"device": "F-291", "phases": "A", "work": "change it", "crew": "line 2"}
    start |= {"in_sight": True, "one_crew": True}
    for _ in range(FEW):
        field = partial(
            field_clearances.start_field_clearance, cast.who(cast.bo), done_at=timezone.now(), **start
        )
        given = partial(
            giving.give_clearance, cast.who(cast.dana), clearance=clearance.pk, version=version(clearance)
        )
        winner = one_wins(race.together(field, given))
        clearance.refresh_from_db()
        assert (clearance.state == "given") is (winner.entry.verb == "give_clearance")
        race.again(
            "UPDATE clearances_clearance SET state = 'asked', given_at = NULL, given_by_id = NULL"
            f" WHERE number = {clearance.pk}",
            "DELETE FROM clearances_fieldclearance",
        )
    unbroken()


def test_a_clearance_is_given_while_its_job_is_called_off(race: Race) -> None:
    cast = chapel_row(race)
    clearance = isolated(cast)
    for _ in range(FEW):
        at: dict[str, Any] = {"clearance": clearance.pk, "version": version(clearance)}
        winner = one_wins(
            race.together(
                partial(giving.give_clearance, cast.who(cast.dana), **at),
                partial(calling_off.call_off_job, cast.who(cast.ines), why="thunderstorm", **at),
            )
        )
        clearance.refresh_from_db()
        states = {"give_clearance": "given", "call_off_job": "withdrawn"}
        assert clearance.state == states[winner.entry.verb]
        race.again(
            "UPDATE clearances_clearance SET state = 'asked', given_at = NULL, given_by_id = NULL"
            f" WHERE number = {clearance.pk}",
            "UPDATE clearances_step SET state = 'waiting' WHERE state = 'left_out'",
        )
    unbroken()


def test_two_orders_operate_one_device(race: Race) -> None:
    cast = chapel_row(race)
    first = cast.job("told")
    second = cast.bring(cast.asked(holder=cast.bo), "told")
    mine, other = (cast.steps(each, "isolate")[0] for each in (first, second))
    for _ in range(FEW):
        one_wins(race.together(give(cast, mine), give(cast, other, by=cast.ines)))
        assert Step.objects.filter(device="C-280", state="given").count() == 1
        race.again("UPDATE clearances_step SET state = 'waiting', given_at = NULL WHERE state = 'given'")
    unbroken()
