"""What is seen of a device and its tag with no step behind it: still as it was, blown off, hung again."""

from typing import Any

import pytest
from django.utils import timezone

from circuits import positions
from clearances import facts
from clearances.models import Clearance, LogEntry, Tag
from clearances.services import reporting
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .plays import Tap
from .said import codes


def see(cast: Cast, device: str, phases: str, position: str = "open", **more: Any) -> Outcome:
    who, now = cast.who(cast.sal), timezone.now()
    return reporting.report_position(
        who, device=device, phases=phases, position=position, done_at=now, **more
    )


def blocking(clearance: Clearance) -> list[str]:
    return [point.blocking for point in facts.points_of(clearance)]


def live(clearance: Clearance) -> list[str]:
    return list(facts.live_tags().filter(clearance=clearance).values_list("number", flat=True))


def test_still_open_stays_made_inoperable(tap: Tap) -> None:
    """Whoever looks at a point and finds it as it was does not take the protection off the board."""
    clearance = tap.job("accepted")
    entry = done(see(tap, "C-233", "B", tag="seen")).entry
    assert entry.irregular == ""
    assert "C-233 B at P-236, Mill Road is open, its tag seen." in entry.words
    assert blocking(clearance) == ["B"]
    report = positions.details(["C-233"])["C-233", "B"]
    assert report
    assert (report.made_inoperable, report.said_by) == ("barrels out, secured", "Sal Moreno")


def test_how_it_is_kept_open_is_said_anew(tap: Tap) -> None:
    tap.job("accepted")
    done(see(tap, "C-233", "B", made_inoperable="barrel out, fuse holder locked away"))
    report = positions.details(["C-233"])["C-233", "B"]
    assert report
    assert report.made_inoperable == "barrel out, fuse holder locked away"


def test_a_phase_that_stood_closed_is_not_made_inoperable_by_being_seen_open(tap: Tap) -> None:
    done(see(tap, "C-208", "A", made_inoperable="barrel out"))
    done(see(tap, "C-208", "A", "closed"))
    done(see(tap, "C-208", "AB"))
    found = positions.details(["C-208"])
    assert [report and report.made_inoperable for report in found.values()] == ["", "", None]


def test_open_but_nothing_keeps_it_from_being_closed(tap: Tap) -> None:
    clearance = tap.job("accepted")
    entry = done(see(tap, "C-233", "B", operable=True)).entry
    assert entry.irregular == f"It can be closed. It carries tag {clearance.pk}-1 (Ana Duarte)."
    assert blocking(clearance) == [""]
    assert facts.facts_of(clearance).paths


def test_a_tag_has_blown_off(tap: Tap) -> None:
    clearance = tap.job("accepted")
    entry = done(see(tap, "C-233", "B", tag="gone")).entry
    number = f"{clearance.pk}-1"
    assert entry.irregular == (
        f"Tag {number} is gone from C-233. Off while clearance {clearance.pk} is accepted."
    )
    assert entry.clearance == clearance
    assert live(clearance) == []
    assert blocking(clearance) == [""]
    assert facts.facts_of(clearance).paths
    assert Clearance.objects.get(pk=clearance.pk).version > clearance.version
    (point,) = facts.points_of(clearance)
    assert point.inoperable == "B"


def test_a_tag_is_hung_again(tap: Tap) -> None:
    clearance = tap.job("accepted")
    done(see(tap, "C-233", "B", tag="gone", tag_number=f"{clearance.pk}-1"))
    entry = done(see(tap, "C-233", "B", tag="hung")).entry
    assert entry.irregular == ""
    assert f"open, tag {clearance.pk}-1 hung" in entry.words
    assert blocking(clearance) == ["B"]
    assert facts.facts_of(clearance).paths == ()
    assert Tag.objects.filter(number=f"{clearance.pk}-1").count() == 2


def test_a_tag_hung_before_its_step_is_stored_and_marked(tap: Tap) -> None:
    clearance = tap.job("told")
    entry = done(see(tap, "C-233", "B", "closed", tag="hung", tag_number=f"{clearance.pk}-1")).entry
    marked = f"Tag {clearance.pk}-1 hung with no step behind it. C-233 B does not stand open under it."
    assert entry.irregular == marked
    assert Tag.objects.get().irregular == marked


@pytest.mark.parametrize(
    ("seen", "number", "irregular"),
    [
        ("seen", "", ""),
        ("gone", "", "Which tag is gone at C-221 is not known: on the board it carries {0}-2, {1}-2."),
        ("gone", "7-7", "Which tag is gone at C-221 is not known: on the board it carries {0}-2, {1}-2."),
        ("seen", "7-7", "Which tag is seen at C-221 is not known: on the board it carries {0}-2, {1}-2."),
        ("hung", "7-7", "Which point of which clearance was tagged at C-221 is not known."),
    ],
)
def test_a_tag_that_can_not_be_told_from_another(cast: Cast, seen: str, number: str, irregular: str) -> None:
    """Nothing is guessed: what was said is stored, and the desk asks."""
    first = cast.job("isolated")
    second = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211"), "isolated")
    entry = done(see(cast, "C-221", "ABC", tag=seen, tag_number=number)).entry
    assert entry.irregular == irregular.format(first.pk, second.pk)
    assert (len(live(first)), len(live(second))) == (4, 4)
    gone = done(see(cast, "C-221", "ABC", tag="gone", tag_number=f"{second.pk}-2")).entry
    assert gone.clearance == second
    assert (len(live(first)), len(live(second))) == (4, 3)


def test_a_tag_seen_where_the_board_has_none(cast: Cast) -> None:
    entry = done(see(cast, "C-208", "ABC", "closed", tag="seen")).entry
    assert entry.irregular == "Which tag is seen at C-208 is not known: on the board it carries no tag."


def test_another_word_for_a_tag_is_not_understood(cast: Cast) -> None:
    assert codes(see(cast, "C-208", "ABC", tag="fluttering")) == ["unknown_word"]
    assert not LogEntry.objects.filter(verb="report_position").exists()
