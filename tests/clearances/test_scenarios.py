"""Scenarios of the trade, told as they happen: given, when, then. The numbers are those of the list that this
board was designed by; what each asks for is said here.
"""

import datetime
import uuid
from typing import Any

from django.utils import timezone

from circuits import positions
from clearances import at_device, facts
from clearances.models import Clearance, Interruption, LogEntry
from clearances.services import giving, on_the_line, planning, reporting, switching
from clearances.services.verb import Done, Outcome, Stale, Who
from tests.cast import Cast, done

from .plays import Tap
from .said import codes, texts


def give(cast: Cast, clearance: Clearance) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=version)


def out() -> int:
    return Interruption.objects.filter(on_at=None).count()


def test_s01_a_radial_tap_and_one_crew(tap: Tap) -> None:
    """Given a tap with one cutout and no tie, generator or bank: the clearance is given with one point, and
    the customers beyond are out from the reported minute, not from the planned one."""
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    tap.give_step(clearance, step)
    assert "source_not_blocked" in codes(give(tap, clearance))
    opened = timezone.now() - datetime.timedelta(seconds=50)
    said: dict[str, Any] = {
        "step": step.pk,
        "phases": "B",
        "done_at": opened,
        "made_inoperable": "barrel out",
        "tag": True,
    }
    done(reporting.report_step(tap.who(tap.sal), **said))

    assert out() == clearance.affected.count() > 0
    assert set(Interruption.objects.values_list("off_at", flat=True)) == {opened}
    assert clearance.points.count() == 1
    done(give(tap, clearance))


def test_s02_two_places_and_only_one_of_them_open(cast: Cast) -> None:
    """Given a section fed from C-208 and C-221, only C-208 is reported open: the giving is refused with the
    way by which it is still fed, and the customers are still energized."""
    clearance = cast.job("told")
    first = cast.steps(clearance, "isolate")[0]
    cast.give_step(clearance, first)
    cast.report_step(first)

    refused = give(cast, clearance)
    live, *others = texts(refused)
    assert live == (
        "Phases A, B, C are still fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 "
        "(phases A, B, C)."
    )
    assert "C-221 is reported open 0 of 3, inoperable 0 of 3, tagged 0 of 3." in others
    assert not any(text.startswith("C-208") for text in others)
    assert out() == 0


def test_s03_three_single_phase_cutouts(cast: Cast) -> None:
    """Given C-221's three cutouts, A and B are reported and C is not: two of three, never «open»; the giving
    is refused; the three-phase customer is not fed as he should be."""
    clearance = cast.job("told")
    first, second, *_ = cast.steps(clearance, "isolate")
    cast.give_step(clearance, first)
    cast.report_step(first)
    cast.give_step(clearance, second)
    cast.report_step(second, "AB", tag=False)

    second.refresh_from_db()
    assert (second.state, second.reported_phases) == ("given", "AB")
    point = next(point for point in facts.points_of(clearance) if point.device == "C-221")
    assert (point.open, point.blocking) == ("AB", "")
    refused = give(cast, clearance)
    assert "C-221 is reported open 2 of 3, inoperable 2 of 3, tagged 0 of 3." in texts(refused)
    assert "source_not_blocked" in codes(refused)
    pump = Interruption.objects.filter(on_at=None, premises__transformer="T-218")
    assert pump.count() == 1

    cast.report_step(second, "C")
    second.refresh_from_db()
    assert second.state == "reported"


def test_s09_two_clearances_on_one_cutout(tap: Tap) -> None:
    """Given both on C-233, the first is released: only its own tag comes off, the cutout stays open, and the
    order to close it names who is on it, his telephone and his promise."""
    ana, bo = tap.job("checked"), tap.bring(tap.asked(holder=tap.bo), "checked")
    (ana_opens,), (bo_opens,) = tap.steps(ana, "isolate"), tap.steps(bo, "isolate")
    tap.give_step(ana, ana_opens)
    tap.report_step(ana_opens)
    tap.report_step(bo_opens)  # the second tag is hung beside the first, by radio and without a step
    for each in (ana, bo):
        done(give(tap, each))
        tap.accept(Clearance.objects.get(pk=each.pk))
    tap.release(Clearance.objects.get(pk=ana.pk))
    remove, close = tap.steps(ana, "restore")
    tap.give_step(ana, remove)
    tap.report_step(remove)

    assert [tag.number for tag in at_device.tags_at("C-233")] == [f"{bo.pk}-1"]
    assert positions.open_phases()["C-233"] == "B"
    version = Clearance.objects.get(pk=ana.pk).version
    said: dict[str, Any] = {"version": version, "given_to": "Sal Moreno", "repeated_back": True}
    promised = f"{timezone.localtime(bo.promised_end):%H:%M}"
    refused = switching.give_step(tap.who(tap.dana), step=close.pk, **said)
    assert texts(refused) == [
        (
            f"C-233 can't be ordered closed: tag {bo.pk}-1 is on it (clearance {bo.pk}, Bo Lindqvist, "
            f"555-0142, promised {promised})."
        ),
        (
            f"Closing C-233 B would energize primary P-251 to P-253, phases B (clearance {bo.pk}, Bo "
            "Lindqvist, 555-0142)."
        ),
    ]
    assert out() > 0

    tap.release(Clearance.objects.get(pk=bo.pk))
    remove_bo, _ = tap.steps(bo, "restore")
    tap.give_step(bo, remove_bo)
    tap.report_step(remove_bo)
    tap.give_step(ana, close)
    tap.report_step(close)
    assert (out(), "C-233" in positions.open_phases()) == (0, False)


def test_s17_a_normally_open_tie_at_the_edge_of_the_limits(cast: Cast) -> None:
    """Given that the isolation ends at N-7, which stands normally open: it is checked open in the field and
    tagged, although nothing is operated; until it is, it blocks nothing; and the way back leaves it open."""
    clearance = cast.asked(from_pole="P-286", to_pole="P-286", work="Change the pole's insulators")
    compiled_ways = facts.facts_of(clearance).paths
    assert any(
        "N-7" in path.words for path in compiled_ways
    )  # it does not count as blocking by standing open

    who = cast.who(cast.dana)
    choice = ["N-7", "R-31"]
    done(planning.choose_points(who, clearance=clearance.pk, version=clearance.version, devices=choice))
    clearance.refresh_from_db()
    cast.write(clearance)
    steps = {(step.half, step.operation, step.device_id) for step in cast.steps(clearance, "isolate")}
    assert ("isolate", "check_open", "N-7") in steps
    back = [(step.operation, step.device_id) for step in cast.steps(clearance, "restore")]
    assert ("remove_tag", "N-7") in back
    assert ("close", "N-7") not in back


def test_s35_a_ground_set_too_few(cast: Cast) -> None:
    """Given three on, G3 at P-214, G5 at P-215 and G7 at P-217, two are reported off: the release is refused
    and names the one that is left and where."""
    clearance = cast.job("grounded")
    ana = cast.who(cast.ana)
    done(
        on_the_line.ground_on(
            ana, clearance=clearance.pk, label="G7", pole="P-217", phases="ABC", done_at=timezone.now()
        )
    )
    for label in ("G3", "G5"):
        who = cast.who(cast.ana)
        entry = done(
            on_the_line.ground_off(who, clearance=clearance.pk, label=label, done_at=timezone.now())
        ).entry
    assert entry.words.endswith("1 left on.")

    said: dict[str, Any] = {
        "clearance": clearance.pk,
        "version": None,
        "told_everyone": True,
        "all_off": True,
    }
    assert texts(giving.release_clearance(cast.who(cast.ana), **said)) == ["Ground set G7 at P-217 is on."]
    who = cast.who(cast.ana)
    done(on_the_line.ground_off(who, clearance=clearance.pk, label="G7", done_at=timezone.now()))
    done(giving.release_clearance(cast.who(cast.ana), **said))


def test_s45_by_radio_only(cast: Cast) -> None:
    """Given no telephone signal, the operator enters the foreman's word: his name, the operator's, the way it
    came and the foreman's own minute are kept, and every rule still holds."""
    clearance = cast.job("given")
    accept: dict[str, Any] = {
        "clearance": clearance.pk,
        "read_back": "P-213 to P-218, C-208, C-221, D-219, D-212",
    }
    refused = giving.accept_clearance(cast.who(cast.dana, cast.bo, "radio"), **accept)
    assert codes(refused) == ["not_the_holder"]
    entry = done(giving.accept_clearance(cast.who(cast.dana, cast.ana, "radio"), **accept)).entry
    assert (entry.by, entry.speaking_for, entry.how) == (cast.dana, cast.ana, "radio")
    tested = timezone.now() - datetime.timedelta(seconds=20)
    test: dict[str, Any] = {
        "pole": "P-214",
        "phases": "ABC",
        "result": "none",
        "instrument": "12",
        "tester_proven": True,
    }
    entry = done(
        on_the_line.report_test(
            cast.who(cast.dana, cast.ana, "radio"), clearance=clearance.pk, done_at=tested, **test
        )
    ).entry
    assert entry.done_at == tested
    assert entry.reported_at
    assert entry.reported_at > tested
    foreman_for_another = on_the_line.sign_on(
        cast.who(cast.bo, cast.ana), clearance=clearance.pk, name="Sal Moreno", done_at=timezone.now()
    )
    assert codes(foreman_for_another) == ["role"]  # only the desk enters another's word


def test_s46_late_reports_land_with_both_times(tap: Tap) -> None:
    """Given an hour without signal, the queued reports land late, with both times, and nothing is released by
    them as if it were now."""
    clearance = tap.job("tested")
    an_hour_ago = timezone.now() - datetime.timedelta(hours=1)
    entry = done(
        on_the_line.ground_on(
            tap.who(tap.ana),
            clearance=clearance.pk,
            label="G3",
            pole="P-252",
            phases="B",
            done_at=an_hour_ago,
        )
    ).entry
    assert entry.done_at == an_hour_ago
    assert entry.reported_at
    assert entry.reported_at - an_hour_ago >= datetime.timedelta(hours=1)
    assert "No test without voltage on B" in entry.irregular  # at that minute nothing had been tested
    assert codes(
        giving.release_clearance(
            tap.who(tap.ana), clearance=clearance.pk, version=None, told_everyone=True, all_off=True
        )
    ) == ["ground_on"]


def test_s49_two_operators_act_on_one_step(cast: Cast) -> None:
    """Given both look at the same picture, the first gives the step: the second is told, and by what; no last
    write wins."""
    clearance = cast.job("told")
    first, second, *_ = cast.steps(clearance, "isolate")
    picture = clearance.version
    said: dict[str, Any] = {"version": picture, "given_to": "Sal Moreno", "repeated_back": True}
    done(switching.give_step(cast.who(cast.dana), step=first.pk, **said))
    again = switching.give_step(cast.who(cast.ines), step=first.pk, **said)
    assert texts(again) == ["Step 1 (C-208 ABC) is given and not yet reported."]
    cast.report_step(first)
    stale = switching.give_step(cast.who(cast.ines), step=second.pk, **said)
    assert isinstance(stale, Stale)
    assert stale.sentence.startswith(f"Clearance {clearance.pk} has changed since this page was read. Last: ")
    second.refresh_from_db()
    assert second.state == "waiting"


def test_s50_a_double_tap(tap: Tap) -> None:
    """Given the same message twice, one event."""
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    tap.give_step(clearance, step)
    who = Who(tap.sal, key=uuid.uuid4())
    said: dict[str, Any] = {
        "step": step.pk,
        "phases": "B",
        "done_at": timezone.now(),
        "made_inoperable": "out",
        "tag": True,
    }
    outcomes = [reporting.report_step(who, **said) for _ in range(2)]
    assert [isinstance(outcome, Done) and outcome.repeated for outcome in outcomes] == [False, True]
    assert LogEntry.objects.filter(verb="report_step").count() == 1
    assert clearance.tags.count() == 1


def test_c5_two_look_alike_numbers_are_told_apart_by_pole_and_street(cast: Cast) -> None:
    """C-280 is not to be taken for C-208: a step is never said by its number alone."""
    clearance = cast.job("told")
    first = cast.steps(clearance, "isolate")[0]
    assert switching.words_of(first).startswith("Open C-208 A, B, C at P-208, Quarry Lane;")
