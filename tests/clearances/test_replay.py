"""The log replayed gives what stands in the tables; what was changed past it shows."""

import pytest
from django.core.management import CommandError, call_command

from clearances import replay
from clearances.models import Clearance, LogEntry
from clearances.services import reporting
from tests.cast import Cast, done

from .plays import SecondStage, Tap, called_off
from .sql import REPORT, TAG_OFF, typed

KINDS = {"clearance", "ground set", "job", "order", "person on", "position", "step", "tag", "test"}


def test_a_whole_job_replayed_is_what_stands(cast: Cast) -> None:
    one = cast.job("restored")
    assert list(replay.differences()) == []
    by_log = replay.replayed()
    assert by_log["clearance", str(one.pk)]["state"] == "released"
    assert by_log["order", str(one.pk)]["state"] == "finished"
    assert by_log["job", str(one.job_id)]["state"] == "finished"
    kinds = {kind for kind, _ in by_log}
    assert kinds == {
        "clearance",
        "ground set",
        "job",
        "order",
        "person on",
        "position",
        "step",
        "tag",
        "test",
    }
    call_command("verify_log", verbosity=0)


def test_every_kind_of_thing_is_watched(db: None) -> None:
    """Each table whose rows the board's states, tags, people and positions are."""
    assert {kind for _, kind, _, _ in replay._watched()} >= KINDS | {"broken proof", "roll-call"}


def test_a_draft_that_is_written_again_leaves_nothing_behind(cast: Cast) -> None:
    one = cast.job("order written")
    cast.choose(Clearance.objects.get(pk=one.pk))
    cast.write(Clearance.objects.get(pk=one.pk))
    assert list(replay.differences()) == []
    assert replay.take_changes() == []


def test_two_stages_and_a_job_called_off_replay_too(cast: Cast) -> None:
    one = cast.job("told")
    SecondStage.present().bring(SecondStage.present().follow(one), "checked")
    called_off(cast, Clearance.objects.get(pk=one.pk))
    assert list(replay.differences()) == []


def test_an_entry_carries_what_it_changed_under_its_digest(tap: Tap) -> None:
    one = tap.job("told")
    step, *_ = tap.steps(one, "isolate")
    tap.give_step(one, step)
    entry = LogEntry.objects.order_by("-number")[0]
    assert entry.data["changes"] == [["step", str(step.pk), replay.standing()["step", str(step.pk)]]]
    assert entry.data["changes"][0][2]["state"] == "given"


def test_what_is_changed_past_the_log_shows_and_stays(tap: Tap) -> None:
    """SQL typed by hand that no rule refuses: a tag off, a position."""
    one = tap.job("isolated")
    tag = one.tags.get()
    typed(TAG_OFF, tag.number)
    typed(REPORT, "C-280", "A", "open", "")
    found = list(replay.differences())
    assert found[0] == f"tag {tag.pk} was changed past the log"
    assert any(one.startswith(f"tag {tag.pk}: off_at None by the log, 20") for one in found)
    assert any(one.startswith("position ") and one.endswith("is not in the log") for one in found)
    with pytest.raises(CommandError, match=r"the tables differ from it, in 4 place"):
        call_command("verify_log", verbosity=0)


def test_a_report_that_was_rolled_back_leaves_nothing(tap: Tap) -> None:
    tap.job("told")
    reporting.report_position(
        tap.who(tap.sal), device="C-999", phases="A", position="open", done_at=tap.asked().window_start
    )
    assert list(replay.differences()) == []
    done(
        reporting.report_position(
            tap.who(tap.sal), device="C-280", phases="A", position="open", done_at=tap.asked().window_start
        )
    )
    assert list(replay.differences()) == []
