"""What the database itself refuses about unplanned interruptions and facts out of the ordinary, typed by hand
as the board's own role. What is reported of them is stored: `test_troubles`, `test_scenarios_facts`.
"""

from django.utils import timezone

from clearances.models import Clearance, NeverOn, Trouble
from clearances.services import calls, on_the_line, reporting, seen
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .plays import Tap
from .sql import GIVE_STEP, breaks, no_right, refused, typed


def report(cast: Cast, device: str, phases: str, position: str = "open") -> Outcome:
    return reporting.report_position(
        cast.who(cast.sal), device=device, phases=phases, position=position, done_at=timezone.now()
    )


OUT = (
    "INSERT INTO clearances_interruption (premises_id, clearance_id, trouble_id, off_at)"
    " VALUES (%s, %s, %s, now())"
)


def test_an_interruption_is_planned_or_in_a_trouble_never_both_never_neither(cast: Cast) -> None:
    clearance = cast.job("told")
    (number,) = typed(
        "INSERT INTO clearances_trouble (device_id, began_at, cause, crew, say, telling, version)"
        " VALUES ('C-280', now(), '', '', '', 0, 1) RETURNING number"
    )[0]
    breaks("planned_or_in_trouble", OUT, "1001", clearance.pk, number)
    breaks("planned_or_in_trouble", OUT, "1001", None, None)
    typed(OUT, "1001", None, number)
    breaks("out_once", OUT, "1001", clearance.pk, None)  # one open trouble a premises


def test_a_trouble_is_history(cast: Cast) -> None:
    done(report(cast, "C-280", "ABC"))
    one = Trouble.objects.get().pk
    refused("history_is_kept", "DELETE FROM clearances_trouble WHERE number = %s", one)
    moved = "UPDATE clearances_trouble SET device_id = 'F-213' WHERE number = %s"
    assert refused("history_is_kept", moved, one).startswith("Where and when trouble")
    end = "UPDATE clearances_trouble SET ended_at = now() WHERE number = %s"
    assert refused("trouble_ends_with_its_customers", end, one) == (
        f"Customers of trouble {one} are still out."
    )
    refused(
        "history_is_kept",
        "UPDATE clearances_interruption SET trouble_id = NULL, clearance_id = NULL WHERE trouble_id = %s",
        one,
    )
    done(report(cast, "C-280", "ABC", "closed"))
    refused("history_is_kept", "UPDATE clearances_trouble SET ended_at = NULL WHERE number = %s", one)
    refused("no_one_joins_what_has_ended", OUT, "1001", None, one)
    refused(
        "nothing_promised_after_the_end", "UPDATE clearances_trouble SET crew = 'Bo' WHERE number = %s", one
    )
    no_right("TRUNCATE clearances_trouble CASCADE")


def test_a_trouble_ends_after_it_began_and_what_is_said_has_its_hour(cast: Cast) -> None:
    insert = (
        "INSERT INTO clearances_trouble (device_id, began_at, ended_at, cause, crew, say, telling, version)"
        " VALUES ('C-280', now(), {}, '', '', '{}', 0, 1)"
    )
    breaks("trouble_ends_after_it_began", insert.format("now() - interval '1 s'", ""))
    breaks("trouble_said_at_some_time", insert.format("NULL", "soon"))


NEVER_ON = (
    "INSERT INTO clearances_neveron (ground_id, said_by, second, said_at)"
    " SELECT id, %s, %s, now() FROM clearances_groundset WHERE label = 'G3'"
)


def test_the_database_wants_both_words_of_a_set_that_never_went_on(cast: Cast) -> None:
    cast.job("working")
    refused("never_on_by_holder", NEVER_ON, "Bo Lindqvist", "Sal Moreno")
    refused("never_on_by_a_second", NEVER_ON, "Ana Duarte", "Tom Weir")
    refused("never_on_by_a_second", NEVER_ON, "Ana Duarte", "Ana Duarte")
    done(
        on_the_line.sign_on(
            cast.who(cast.ana),
            clearance=Clearance.objects.get().pk,
            name="Ana Duarte",
            done_at=timezone.now(),
        )
    )
    breaks("never_on_said_by_two", NEVER_ON, "Ana Duarte", "Ana Duarte")
    done(
        seen.ground_never_on(
            cast.who(cast.ana), clearance=Clearance.objects.get().pk, label="G3", second="Lee Abara"
        )
    )
    assert NeverOn.objects.get().second == "Lee Abara"
    refused("history_is_kept", "UPDATE clearances_neveron SET second = 'Sal Moreno'")
    refused("history_is_kept", "DELETE FROM clearances_neveron")


def test_a_call_is_history(cast: Cast) -> None:
    one = done(calls.take_call(cast.who(cast.mira), kind="out", premises="1097")).entry
    refused("history_is_kept", "DELETE FROM clearances_call")
    refused("history_is_kept", "UPDATE clearances_call SET outside = false")
    insert = (
        "INSERT INTO clearances_call (entry_id, kind, place, outside, at) VALUES (%s, %s, %s, false, now())"
    )
    breaks("call_kind_known", insert, one.pk + 1, "late", "x")
    breaks("call_from_somewhere", insert, one.pk + 1, "out", "")


BLOW = (
    "INSERT INTO clearances_blow (device_id, phases, closed_at, dropped_at, said_by)"
    " VALUES ('C-233', %s, clock_timestamp(), clock_timestamp() + %s * interval '1 second', 'Sal')"
)
PATROL = (
    "INSERT INTO clearances_patrol (device_id, found, done_at, said_by)"
    " VALUES ('C-233', %s, clock_timestamp() + interval '1 minute', 'Sal')"
)


def test_nothing_is_ordered_closed_after_a_second_blow_without_a_patrol(tap: Tap) -> None:
    clearance = tap.job("released")
    remove, close = tap.steps(clearance, "restore")
    tap.give_step(clearance, remove)
    tap.report_step(remove)
    breaks("blow_phases", BLOW, "", 0)
    breaks("blow_drops_after_closing", BLOW, "B", -1)
    typed(BLOW, "B", 0)
    typed(BLOW, "B", 0)
    assert refused("patrol_after_second_blow", GIVE_STEP, tap.dana.pk, close.pk) == (
        "C-233 has dropped 2 times since it last held, and nobody has reported a patrol since."
    )
    breaks("patrol_found_something", PATROL, "")
    typed(PATROL, "a limb at P-252")
    typed(GIVE_STEP, tap.dana.pk, close.pk)


def test_one_blow_asks_for_no_patrol(tap: Tap) -> None:
    clearance = tap.job("released")
    remove, close = tap.steps(clearance, "restore")
    tap.give_step(clearance, remove)
    tap.report_step(remove)
    typed(BLOW, "B", 0)
    typed(GIVE_STEP, tap.dana.pk, close.pk)
