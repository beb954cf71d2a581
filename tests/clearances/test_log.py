"""The operations log: one chain, one entry a verb, four times kept."""

import datetime
import io

from django.core.management import call_command
from django.utils import timezone

from clearances import log
from clearances.models import LogEntry
from clearances.services import reporting
from tests.cast import Cast, done

from .plays import Tap
from .sql import breaks


def verified() -> str:
    out = io.StringIO()
    call_command("verify_log", stdout=out)
    return out.getvalue().strip()


def test_an_empty_log_is_unbroken(cast: Cast) -> None:
    assert verified() == "the log is empty"


def test_the_entries_of_a_whole_job_are_one_chain(cast: Cast) -> None:
    cast.job("restored")
    entries = list(LogEntry.objects.order_by("number"))
    assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
    assert [entry.previous for entry in entries] == ["", *(entry.digest for entry in entries[:-1])]
    assert len({entry.digest for entry in entries}) == len(entries)
    last = entries[-1]
    assert verified() == f"{last.number} entries, unbroken and as the tables stand, last digest {last.digest}"


def test_every_verb_writes_one_entry(tap: Tap) -> None:
    tap.job("restored")
    verbs = list(LogEntry.objects.order_by("number").values_list("verb", flat=True))
    assert verbs == [
        "ask_for_clearance",
        "choose_points",
        "write_order",
        "check_order",
        "tell_customers",
        "give_step",
        "report_step",
        "give_clearance",
        "accept_clearance",
        "report_test",
        *["ground_on"] * 2,
        *["sign_on"] * 2,
        *["ground_off"] * 2,
        *["sign_off"] * 2,
        "release_clearance",
        *["give_step", "report_step"] * 2,
    ]


def test_four_times_are_kept(tap: Tap) -> None:
    """Ordered 10:01, done 10:04, reported by radio at 10:09, entered at once: none is made from another."""
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    tap.give_step(clearance, step)
    step.refresh_from_db()
    opened = timezone.now() - datetime.timedelta(seconds=30)
    before = timezone.now()
    entry = done(
        reporting.report_step(
            tap.who(tap.dana, tap.sal, "radio"),
            step=step.pk,
            phases="B",
            done_at=opened,
            made_inoperable="out",
        )
    ).entry
    entry.refresh_from_db()
    assert (entry.ordered_at, entry.done_at) == (step.given_at, opened)
    assert entry.reported_at
    assert before <= entry.reported_at <= entry.entered_at <= timezone.now()
    assert (entry.by, entry.speaking_for, entry.how) == (tap.dana, tap.sal, "radio")
    assert entry.words.startswith("Sal Moreno, entered by Dana Reyes (radio): C-233 B opened, out")


def test_an_order_has_no_time_at_which_it_was_done(tap: Tap) -> None:
    tap.job("checked")
    assert not LogEntry.objects.exclude(done_at=None, reported_at=None).exists()


def test_the_way_a_word_came_is_one_of_four(tap: Tap) -> None:
    tap.asked()
    sql = (
        "INSERT INTO clearances_logentry"
        " (number, verb, words, by_id, how, entered_at, irregular, data, previous, digest)"
        " SELECT 2, 'remark', '', %s, 'pigeon', now(), '', '{}', digest, '' FROM clearances_logentry"
    )
    breaks("log_how_known", sql, tap.dana.pk)


def test_a_cut_off_end_shows_against_the_last_digest_on_paper(tap: Tap) -> None:
    """No chain can tell that its own end is missing: so the command says how long it is and how it ends, for
    whoever writes that down elsewhere."""
    tap.asked()
    before = verified()
    tap.job("checked")
    assert verified() != before
    assert log.digest_of(LogEntry.objects.get(number=1)) in before
