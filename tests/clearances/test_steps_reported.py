"""Reports that do not fit their step: stored, marked on the log entry, and not taken for the step done."""

from typing import Any

from django.utils import timezone

from circuits import positions
from clearances.models import Step, Tag
from clearances.services import reporting, switching
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .plays import Tap


def report(cast: Cast, step: Step, **more: Any) -> Outcome:
    given: dict[str, Any] = {
        "phases": step.phases,
        "done_at": timezone.now(),
        "made_inoperable": "barrels out, secured",
        "tag": True,
    }
    return reporting.report_step(cast.who(cast.sal), step=step.pk, **given | more)


def test_a_phase_beyond_the_step_is_stored_and_marked(cast: Cast) -> None:
    """Phase A stood open when the order was written: it is a step of its own."""
    who, now = cast.who(cast.sal), timezone.now()
    done(reporting.report_position(who, device="C-208", phases="A", position="open", done_at=now))
    job = cast.job("told")
    step = cast.steps(job, "isolate")[0]
    cast.give_step(job, step)
    entry = done(report(cast, step, phases="ABC", tag=False)).entry
    assert entry.irregular == "Step 1 is for A, not B, C."
    step.refresh_from_db()
    assert (step.state, step.reported_phases) == ("reported", "A")
    beyond = positions.details(["C-208"])["C-208", "B"]
    assert beyond
    assert (beyond.made_inoperable, beyond.irregular) == ("barrels out, secured", entry.irregular)


def test_what_was_reported_before_it_was_given_does_not_complete_it(cast: Cast) -> None:
    job = cast.job("told")
    step = cast.steps(job, "isolate")[0]
    done(report(cast, step, phases="AB", tag=False))
    cast.give_step(job, step)
    done(report(cast, step, phases="C"))
    step.refresh_from_db()
    assert (step.state, step.reported_phases) == ("given", "ABC")
    done(report(cast, step, phases="AB"))
    step.refresh_from_db()
    assert step.state == "reported"


def test_a_step_operated_before_it_was_given_is_not_called_back(cast: Cast) -> None:
    """Else nobody would restore what stands open."""
    job = cast.job("told")
    step = cast.steps(job, "isolate")[0]
    done(report(cast, step, phases="AB", tag=False))
    cast.give_step(job, step)
    job.refresh_from_db()
    who = cast.who(cast.dana)
    outcome = switching.call_step_back(who, step=step.pk, version=job.version, why="rain")
    assert "reported AB" in str(outcome)


def test_what_the_database_marks_on_a_tag_reaches_the_log(tap: Tap) -> None:
    """A tag hung while another order has the device ordered closed."""
    first = tap.bring(tap.asked(), "released")
    second = tap.bring(tap.asked(holder=tap.bo), "told")
    untag, close = tap.steps(first, "restore")
    tap.give_step(first, untag)
    tap.report_step(untag)
    tap.give_step(first, close)
    (step,) = tap.steps(second, "isolate")
    entry = done(report(tap, step)).entry
    said = f"Hung while order {first.pk} has C-233 ordered closed."
    assert Tag.objects.get(clearance=second).irregular.endswith(said)
    assert entry.irregular == f"Step 1 was reported while it was not given. {said}"
