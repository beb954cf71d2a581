"""The other half of the database's refusals: what somebody saw or did is stored, however little it fits.

It is marked irregular, stands open in the log until somebody answers it, and changes what may be ordered
next.
"""

import datetime
from typing import Any

from django.utils import timezone

from circuits import positions
from clearances import facts
from clearances.models import Clearance, GroundSet, Interruption, LogEntry, Tag
from clearances.services import giving, on_the_line, reporting, switching
from clearances.services.verb import Done, Outcome, Refused
from tests.cast import Cast, done

from .plays import Tap
from .sql import TAG_OFF, typed


def irregular(outcome: Outcome) -> str:
    """What is irregular about a report that was stored; it stands open until somebody has answered it."""
    assert isinstance(outcome, Done), outcome
    entry = outcome.entry
    assert entry.irregular
    assert entry.pk in standing_open()
    return entry.irregular


def standing_open() -> set[int]:
    """The irregular entries of the log that nobody has answered yet."""
    answers = LogEntry.objects.filter(verb="answer_irregular")
    irregular = LogEntry.objects.exclude(irregular="").values_list("number", flat=True)
    return set(irregular) - {answer.data["entry"] for answer in answers}


def regular(outcome: Outcome) -> None:
    assert isinstance(outcome, Done), outcome
    assert outcome.entry.irregular == ""


def codes(outcome: Outcome) -> list[str]:
    assert isinstance(outcome, Refused), outcome
    return [refusal.code for refusal in outcome.refusals]


def remove_tag(cast: Cast, clearance: Clearance) -> Outcome:
    step = next(each for each in cast.steps(clearance, "restore") if each.operation == "remove_tag")
    return reporting.report_step(
        cast.who(cast.sal), step=step.pk, phases=step.phases, done_at=timezone.now(), tag=True
    )


def report(cast: Cast, device: str, phases: str, position: str, **more: datetime.datetime) -> Outcome:
    return reporting.report_position(
        cast.who(cast.sal),
        device=device,
        phases=phases,
        position=position,
        done_at=more.get("done_at", timezone.now()),
    )


def ground_on(cast: Cast, clearance: Clearance, label: str = "G3", pole: str = "P-252") -> Outcome:
    return on_the_line.ground_on(
        cast.who(cast.ana), clearance=clearance.pk, label=label, pole=pole, phases="B", done_at=timezone.now()
    )


def test_a_tag_reported_off_while_the_clearance_is_out(tap: Tap) -> None:
    clearance = tap.job("accepted")
    assert irregular(remove_tag(tap, clearance)) == (
        f"Step 2 was reported while it was not given. Off while clearance {clearance.pk} is accepted."
    )
    tag = Tag.objects.get(number=f"{clearance.pk}-1")
    assert tag.off_at
    assert tag.irregular == f"Off while clearance {clearance.pk} is accepted."
    assert facts.facts_of(clearance).tags == ()


def test_the_same_by_hand_is_stored_and_marked(tap: Tap) -> None:
    clearance = tap.job("accepted")
    typed(TAG_OFF, f"{clearance.pk}-1")
    assert Tag.objects.get().irregular == f"Off while clearance {clearance.pk} is accepted."


def test_a_tagged_device_reported_closed(tap: Tap) -> None:
    clearance = tap.job("accepted")
    said = irregular(report(tap, "C-233", "B", "closed"))
    assert said == (
        f"C-233 B found closed, with no order behind it. It carries tag {clearance.pk}-1 (Ana Duarte)."
    )
    assert "C-233" not in positions.open_phases()
    assert not Interruption.objects.filter(on_at=None).exists()
    assert Clearance.objects.get(pk=clearance.pk).order.state == "paused"
    assert facts.facts_of(clearance).paths[0].words == (
        "feeder 12 > B-12 > P-201 > P-236 > C-233 > P-251 (phase B), and 2 more ways over C-233"
    )


def test_a_step_reported_closed_on_a_tag(tap: Tap) -> None:
    clearance = tap.job("accepted")
    close = tap.steps(clearance, "restore")[-1]
    outcome = reporting.report_step(tap.who(tap.sal), step=close.pk, phases="B", done_at=timezone.now())
    assert irregular(outcome) == (
        "Done out of order: step 2 (C-233 B) comes first. Step 3 was reported while it was not given. C-233 "
        f"closed with tag {clearance.pk}-1 on it."
    )
    assert "C-233" not in positions.open_phases()


def test_a_step_reported_that_was_not_given(tap: Tap) -> None:
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    outcome = reporting.report_step(
        tap.who(tap.sal),
        step=step.pk,
        phases="B",
        done_at=timezone.now(),
        made_inoperable="barrel out",
        tag=True,
    )
    assert irregular(outcome) == "Step 1 was reported while it was not given."
    step.refresh_from_db()
    assert (step.state, step.reported_phases) == ("waiting", "B")
    (point,) = facts.points_of(clearance)
    assert point.blocking == "B"
    assert Tag.objects.get().irregular == "Step 1 was reported while it was not given."


def test_a_ground_set_on_before_any_test(tap: Tap) -> None:
    """(n)(5): test before grounding [V2]."""
    clearance = tap.job("accepted")
    said = irregular(ground_on(tap, clearance))
    assert said == "No test without voltage on B since the clearance was accepted."
    assert facts.facts_of(clearance).grounds == ("G3 at P-252",)


def test_a_ground_set_on_before_the_clearance(tap: Tap) -> None:
    clearance = tap.job("isolated")
    assert irregular(ground_on(tap, clearance)) == (
        f"Clearance {clearance.pk} is asked. No test without voltage on B since the clearance was accepted."
    )


def test_a_ground_set_on_after_the_release(tap: Tap) -> None:
    """It is counted, and nothing is closed on it."""
    clearance = tap.job("released")
    assert f"Clearance {clearance.pk} is released." in irregular(ground_on(tap, clearance))
    outcome = remove_tag(tap, clearance)
    assert isinstance(outcome, Done)
    close = tap.steps(clearance, "restore")[-1]
    assert "ground_on" in codes(
        switching.give_step(
            tap.who(tap.dana), step=close.pk, version=1, given_to="Sal Moreno", repeated_back=True
        )
    )


def test_the_same_ground_set_on_at_two_poles_is_two(tap: Tap) -> None:
    clearance = tap.job("tested")
    regular(ground_on(tap, clearance))
    assert irregular(ground_on(tap, clearance, pole="P-253")) == "G3 is already reported on at P-252."
    assert irregular(ground_on(tap, clearance, pole="P-253")) == "G3 is already reported on at P-252."
    assert facts.facts_of(clearance).grounds == ("G3 at P-252", "G3 at P-253")
    off: dict[str, Any] = {"clearance": clearance.pk, "label": "G3", "done_at": timezone.now()}
    first = irregular(on_the_line.ground_off(tap.who(tap.ana), **off))
    assert first == "G3 is still reported on at P-253."
    regular(on_the_line.ground_off(tap.who(tap.ana), **off))
    assert irregular(on_the_line.ground_off(tap.who(tap.ana), **off)) == (
        f"G3 was not reported on under clearance {clearance.pk}."
    )


def test_a_ground_set_at_a_pole_that_is_not_on_the_network(tap: Tap) -> None:
    clearance = tap.job("tested")
    assert irregular(ground_on(tap, clearance, pole="P-2523")) == "P-2523 is not a pole on the network."
    assert GroundSet.objects.get().pole == "P-2523"


def test_a_person_signs_on_twice(tap: Tap) -> None:
    clearance = tap.job("working")
    sign_on: dict[str, Any] = {"clearance": clearance.pk, "name": "Sal Moreno", "done_at": timezone.now()}
    assert irregular(on_the_line.sign_on(tap.who(tap.sal), **sign_on)) == "Sal Moreno is already signed on."
    assert facts.facts_of(clearance).people == ("Sal Moreno", "Lee Abara")


def test_a_person_signs_on_under_two_clearances(tap: Tap) -> None:
    first, second = tap.job("working"), tap.asked(holder=tap.bo)
    sign_on: dict[str, Any] = {"clearance": second.pk, "name": "Sal Moreno", "done_at": timezone.now()}
    assert irregular(on_the_line.sign_on(tap.who(tap.bo), **sign_on)) == (
        f"Sal Moreno is still signed on under clearance {first.pk}."
    )
    assert facts.facts_of(second).people == ("Sal Moreno",)


def test_a_person_signs_on_after_the_release(tap: Tap) -> None:
    clearance = tap.job("released")
    sign_on: dict[str, Any] = {"clearance": clearance.pk, "name": "Lee Abara", "done_at": timezone.now()}
    assert irregular(on_the_line.sign_on(tap.who(tap.ana), **sign_on)) == (
        f"Clearance {clearance.pk} is released."
    )
    assert facts.facts_of(clearance).people == ("Lee Abara",)


def test_a_person_signs_off_who_was_not_on(tap: Tap) -> None:
    clearance = tap.job("accepted")
    outcome = on_the_line.sign_off(
        tap.who(tap.ana), clearance=clearance.pk, name="Lee Abara", done_at=timezone.now()
    )
    assert irregular(outcome) == "Lee Abara was not signed on."


def test_voltage_present_freezes(tap: Tap) -> None:
    """Nobody is refused the word, nobody works on, and nothing is given or accepted past it."""
    clearance = tap.job("working")
    tap.test(clearance, result="present")
    entry = LogEntry.objects.latest("number")
    assert entry.irregular == "VOLTAGE PRESENT at P-214, phase A, B, C."
    clearance.refresh_from_db()
    assert (clearance.state, clearance.frozen_why) == ("frozen", entry.irregular)


def test_voltage_present_before_it_is_accepted(tap: Tap) -> None:
    """It can't freeze yet, but it can't be accepted either, until a test at that pole finds none."""
    clearance = tap.job("given")
    tap.test(clearance, result="present")
    assert (
        "Tested before the clearance was given and accepted." in LogEntry.objects.latest("number").irregular
    )
    words: dict[str, Any] = {"clearance": clearance.pk, "read_back": "P-251 to P-253, C-233"}
    assert codes(giving.accept_clearance(tap.who(tap.ana), **words)) == ["voltage_present"]
    tap.test(clearance)
    done(giving.accept_clearance(tap.who(tap.ana), **words))


def test_a_test_with_a_tester_that_was_not_proven(tap: Tap) -> None:
    clearance = tap.job("accepted")
    outcome = on_the_line.report_test(
        tap.who(tap.ana),
        clearance=clearance.pk,
        pole="P-252",
        phases="B",
        result="none",
        instrument="tester 12",
        tester_proven=False,
        done_at=timezone.now(),
    )
    assert irregular(outcome) == "The tester was not proven before and after."
    assert irregular(ground_on(tap, clearance)).startswith("No test without voltage on B")


def test_a_clock_that_runs_ahead_outranks_nothing(tap: Tap) -> None:
    """S47: the board's own time rules the order; what the telephone said is kept in the log."""
    ahead = timezone.now() + datetime.timedelta(hours=9)
    outcome = report(tap, "C-233", "B", "open", done_at=ahead)
    assert isinstance(outcome, Done)
    assert outcome.entry.done_at == ahead
    assert positions.open_phases()["C-233"] == "B"
    done(report(tap, "C-233", "B", "closed"))
    assert "C-233" not in positions.open_phases()


def test_a_late_report_does_not_undo_a_newer_one(tap: Tap) -> None:
    """S46: it lands with both its times, and the picture stays what was done last."""
    tap.job("isolated")
    earlier = timezone.now() - datetime.timedelta(hours=1)
    irregular(report(tap, "C-233", "B", "closed", done_at=earlier))
    assert positions.open_phases()["C-233"] == "B"


def test_an_irregular_report_goes_when_it_is_answered(tap: Tap) -> None:
    outcome = report(tap, "C-233", "B", "open")
    assert irregular(outcome)
    assert isinstance(outcome, Done)
    who = tap.who(tap.dana)
    answer = done(
        reporting.answer_irregular(who, entry=outcome.entry.pk, answer="Fuse blown on a branch; patrol sent.")
    )
    assert answer.entry.data["entry"] == outcome.entry.pk
    assert outcome.entry.pk not in standing_open()
    outcome.entry.refresh_from_db()
    assert outcome.entry.irregular  # what was said stays as it was said
