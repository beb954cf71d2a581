"""Reports from the line that say less, or more, than they should: taken, counted, and marked."""

from typing import Any

import pytest
from django.utils import timezone

from clearances import facts
from clearances.models import Clearance, GroundSet, SignOn, VoltageTest
from clearances.services import on_the_line, reporting
from tests.cast import Cast, done

from .looking import look
from .plays import Tap


def sign_on(cast: Cast, clearance: Clearance, name: str = "Lee Abara") -> str:
    who, now = cast.who(cast.ana), timezone.now()
    return done(on_the_line.sign_on(who, clearance=clearance.pk, name=name, done_at=now)).entry.irregular


def a_test(cast: Cast, clearance: Clearance, **more: Any) -> str:
    given: dict[str, Any] = {
        "pole": "P-214",
        "phases": "ABC",
        "result": "none",
        "instrument": "tester 12",
        "tester_proven": True,
        "done_at": timezone.now(),
    }
    given |= more
    who = cast.who(cast.ana)
    return done(on_the_line.report_test(who, clearance=clearance.pk, **given)).entry.irregular


def ground(cast: Cast, clearance: Clearance, label: str, pole: str, phases: str = "B") -> str:
    who, now = cast.who(cast.ana), timezone.now()
    return done(
        on_the_line.ground_on(who, clearance=clearance.pk, label=label, pole=pole, phases=phases, done_at=now)
    ).entry.irregular


@pytest.mark.parametrize("stage", ["asked", "given", "accepted"])
def test_signing_on_in_the_morning_is_nothing_special(tap: Tap, stage: str) -> None:
    assert sign_on(tap, tap.job(stage)) == ""


def test_signing_on_to_a_frozen_clearance(tap: Tap) -> None:
    clearance = tap.job("accepted")
    tap.test(clearance, "present")
    assert sign_on(tap, clearance) == f"Clearance {clearance.pk} is frozen."
    assert SignOn.objects.get().irregular == f"Clearance {clearance.pk} is frozen."


def test_signing_on_where_a_source_reaches_the_limits(tap: Tap) -> None:
    clearance = tap.job("accepted")
    who, now = tap.who(tap.sal), timezone.now()
    done(reporting.report_position(who, device="C-233", phases="B", position="open", done_at=now, tag="gone"))
    way = "feeder 12 > B-12 > P-201 > P-236 > C-233 > P-251 (phase B), and 2 more ways over C-233"
    assert sign_on(tap, clearance) == f"A source reaches its limits: {way}."


def test_a_test_without_phases_is_of_all_inside_the_limits(tap: Tap) -> None:
    clearance = tap.job("accepted")
    assert a_test(tap, clearance, phases="", result="present", pole="P-252") == (
        "VOLTAGE PRESENT at P-252, phase B."
    )
    assert VoltageTest.objects.get().phases == "B"
    assert Clearance.objects.get(pk=clearance.pk).state == "frozen"


def test_ground_sets_without_a_number_or_a_pole_are_counted_each(tap: Tap) -> None:
    clearance = tap.job("tested")
    assert ground(tap, clearance, "", "P-252") == "It was said without a number."
    assert ground(tap, clearance, "", "P-252") == "It was said without a number."
    assert ground(tap, clearance, "G3", "") == "pole not said is not a pole on the network."
    assert facts.facts_of(clearance).grounds == (
        "no number 1 at P-252",
        "no number 2 at P-252",
        "G3 at pole not said",
    )
    assert "It was said without a number." in GroundSet.objects.filter(label="no number 1").get().irregular


def test_a_ground_set_without_phases_is_on_all_inside_the_limits(tap: Tap) -> None:
    assert ground(tap, tap.job("tested"), "G3", "P-252", phases="") == ""
    assert GroundSet.objects.get().phases == "B"


def test_a_long_number_is_no_reason_to_refuse(tap: Tap) -> None:
    clearance = tap.job("tested")
    label = "the set with the red handles from truck 7"
    pole = "the second pole behind the school on Weir Close"
    assert ground(tap, clearance, label, pole) == f"{pole} is not a pole on the network."
    assert (
        a_test(tap, clearance, instrument="tester " * 20, pole=pole)
        == f"{pole} is not a pole on the network."
    )
    assert sign_on(tap, clearance, name="Lee Abara of the second crew, " * 4) == ""


@pytest.mark.parametrize(
    "said", [{"tester_proven": False}, {"pole": "P-2144"}], ids=["tester not proven", "pole not known"]
)
def test_only_tests_that_count_are_taken_for_tested(cast: Cast, said: dict[str, Any]) -> None:
    """(m)(3)(vi), (n)(5): tested with a proven tester at the work [V2]."""
    job = cast.job("accepted")
    a_test(cast, job, **said)
    seen = look(cast.ana, f"/field/clearances/{job.pk}/")
    assert "Treat it as energized until you have tested it and put the ground sets on." in seen.text
    assert seen.context["next"]["acts"][0]["url"].startswith("/do/report_test/")
    assert look(cast.ana, "/field/").context["mine"][0]["next"] == "test for voltage"
    assert "No test without voltage on A, B, C" in ground(cast, job, "G3", "P-214", "ABC")


def test_the_phases_that_were_tested_are_named_and_those_that_were_not(cast: Cast) -> None:
    job = cast.job("accepted")
    a_test(cast, job, phases="AB")
    seen = look(cast.ana, f"/field/clearances/{job.pk}/")
    assert "Reported tested at P-214, A, B, " in seen.text
    assert ". Phase C is not reported tested: treat it as energized." in seen.text
    assert seen.context["next"]["acts"][0]["url"].startswith("/do/report_test/")
    a_test(cast, job, phases="C", pole="P-215")
    seen = look(cast.ana, f"/field/clearances/{job.pk}/")
    assert "; at P-215, C, " in seen.text
    assert "not reported tested" not in seen.text
    assert seen.context["next"]["acts"][0]["url"].startswith("/do/ground_on/")
