"""The watch over every clearance that is out: a proof that breaks, its holder's answer, the desk's call."""

import datetime

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks

from clearances import flags, replay, watch
from clearances.models import BrokenProof, Clearance, LogEntry
from clearances.services import proofs, reporting
from clearances.tasks import check_flags
from tests.cast import Cast, done

from .looking import text_of
from .said import codes, texts
from .sql import breaks, refused


def seen(cast: Cast, device: str, phases: str, position: str) -> None:
    """Somebody at the pole sees a device otherwise than it was reported."""
    done(
        reporting.report_position(
            cast.who(cast.sal),
            device=device,
            phases=phases,
            position=position,
            done_at=timezone.now(),
            made_inoperable="barrel out, secured" if position == "open" else "",
        )
    )


def only() -> BrokenProof:
    return BrokenProof.objects.get()


@pytest.fixture
def one(cast: Cast) -> Clearance:
    """Ana's clearance, accepted, her people on the line."""
    return cast.job("working")


def test_a_point_seen_closed_breaks_the_proof_and_its_holder_is_asked(cast: Cast, one: Clearance) -> None:
    assert watch.look() == 0
    seen(cast, "C-221", "B", "closed")
    assert watch.look() == 1
    row = only()
    assert row.over == ["C-221 B", "F-218 A", "F-218 C"]
    assert row.words == (
        "Phase B is fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phase B). Phases A, C are "
        "fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 > F-218 > bank T-218 from phase B > "
        "F-218 (phases A, C)."
    )
    cause, entry = LogEntry.objects.order_by("-number")[:2][::-1]
    assert (entry.verb, entry.by_id, entry.clearance_id) == ("proof_broken", cause.by_id, one.pk)
    assert entry.words == (
        f"After entry {cause.number}: The proof of clearance {one.pk} is broken. {row.words} {cast.ana} is "
        "asked to answer."
    )
    assert list(replay.differences()) == []


def test_it_looks_after_every_verb_and_once_a_minute(
    cast: Cast, one: Clearance, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        seen(cast, "C-221", "B", "closed")
    assert only().clearance_id == one.pk
    with django_capture_on_commit_callbacks(execute=True):
        seen(cast, "C-221", "B", "open")
    assert only().gone_at is not None
    seen(cast, "C-221", "B", "closed")
    check_flags()
    assert BrokenProof.objects.count() == 2


def test_what_was_raised_is_not_raised_again_and_stays_until_it_is_answered(
    cast: Cast, one: Clearance
) -> None:
    seen(cast, "C-221", "B", "closed")
    assert [watch.look(), watch.look()] == [1, 0]
    seen(cast, "C-221", "B", "open")
    assert watch.look() == 0
    assert only().gone_at is not None
    assert [row.pk for row in watch.waiting(one)] == [only().pk]
    last = LogEntry.objects.order_by("-number")[0]
    assert (last.verb, "is blocked as reported" in last.words) == ("proof_stands_again", True)
    seen(cast, "C-221", "B", "closed")
    assert watch.look() == 1
    assert len(watch.waiting(one)) == 2
    assert list(replay.differences()) == []


def test_a_further_way_is_a_further_alarm(cast: Cast, one: Clearance) -> None:
    seen(cast, "C-221", "ABC", "closed")
    watch.look()
    seen(cast, "C-208", "ABC", "closed")
    assert watch.look() == 1
    first, second = BrokenProof.objects.all()
    assert first.over == ["C-221 A", "C-221 B", "C-221 C"]
    assert set(second.over) >= {"C-208 A", "C-208 B", "C-208 C"}


def test_only_the_holder_answers_and_the_desk_in_that_name_by_voice(cast: Cast, one: Clearance) -> None:
    seen(cast, "C-221", "B", "closed")
    watch.look()
    number = only().pk
    assert codes(proofs.answer_broken_proof(cast.who(cast.bo), broken_proof=number, people_off=True)) == [
        "not_the_holder"
    ]
    entry = done(
        proofs.answer_broken_proof(
            cast.who(cast.dana, cast.ana, "radio"), broken_proof=number, people_off=False
        )
    ).entry
    assert entry.words == (
        f"{cast.ana}, entered by {cast.dana} (radio) to the broken proof of clearance {one.pk}: people are "
        "STILL ON the line."
    )
    assert watch.must_call(watch.waiting(one)[0], timezone.now())
    done(proofs.answer_broken_proof(cast.who(cast.ana), broken_proof=number, people_off=True))
    assert watch.waiting(one) == []
    again = proofs.answer_broken_proof(cast.who(cast.ana), broken_proof=number, people_off=True)
    assert texts(again) == [f"That everybody under clearance {one.pk} is off was said already."]
    assert codes(proofs.answer_broken_proof(cast.who(cast.ana), broken_proof=999, people_off=True)) == [
        "unknown"
    ]
    assert list(replay.differences()) == []


def test_the_database_keeps_what_broke_and_what_was_said(cast: Cast, one: Clearance) -> None:
    seen(cast, "C-221", "B", "closed")
    watch.look()
    breaks("broken_proof_answered_by_someone", "UPDATE clearances_brokenproof SET people_off = true")
    refused("history_is_kept", "UPDATE clearances_brokenproof SET words = 'nothing'")
    refused("history_is_kept", "DELETE FROM clearances_brokenproof")
    done(proofs.answer_broken_proof(cast.who(cast.ana), broken_proof=only().pk, people_off=True))
    refused("answered_once", "UPDATE clearances_brokenproof SET people_off = false")
    taken_away = "UPDATE clearances_brokenproof SET people_off = NULL, answered_at = NULL, said_by = ''"
    refused("answered_once", taken_away)
    seen(cast, "C-221", "B", "open")
    watch.look()
    refused("history_is_kept", "UPDATE clearances_brokenproof SET gone_at = NULL")


def test_the_desk_is_told_to_call_after_a_minute_and_the_phone_asks(
    cast: Cast, one: Clearance, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen(cast, "C-221", "B", "closed")
    watch.look()
    desk, phone = Client(), Client()
    desk.force_login(cast.dana)
    phone.force_login(cast.ana)
    page = desk.get("/desk/").content.decode()
    shown = text_of(page)
    assert (
        f"The proof of {one.pk} is broken; {cast.ana}, {cast.ana.phone}, {cast.ana.radio}, is asked." in shown
    )
    assert 'data-again="' in page
    assert shown.count("P-221 > C-221 > P-220 > P-218 (phase B)") == 1
    sheet = phone.get(f"/field/clearances/{one.pk}/").content.decode()
    assert "Your protection is broken: phases A, B, C are fed. Everybody off the line." in text_of(sheet)
    assert f"/do/answer_broken_proof/?broken_proof={only().pk}" in sheet
    act = phone.get(f"/do/answer_broken_proof/?broken_proof={only().pk}").content.decode()
    assert "bank T-218 from phase B" in text_of(act)
    assert phone.get("/do/answer_broken_proof/?broken_proof=999").status_code == 404

    later = timezone.now() + datetime.timedelta(seconds=61)
    monkeypatch.setattr(timezone, "now", lambda: later)
    page = desk.get("/desk/").content.decode()
    shown = text_of(page)
    reach = f"{cast.ana}, {cast.ana.phone}, {cast.ana.radio}"
    assert f"Call {reach} by voice: the proof of {one.pk} is broken, no answer." in shown
    assert 'data-again="' not in page
    assert f"Enter the answer of {cast.ana}" in shown


def test_what_is_blocked_again_is_said_to_have_been_broken_and_still_asks(cast: Cast, one: Clearance) -> None:
    seen(cast, "C-221", "B", "closed")
    watch.look()
    seen(cast, "C-221", "B", "open")
    watch.look()
    desk, phone = Client(), Client()
    desk.force_login(cast.dana)
    phone.force_login(cast.ana)
    assert f"The proof of {one.pk} was broken; " in text_of(desk.get("/desk/").content.decode())
    sheet = text_of(phone.get(f"/field/clearances/{one.pk}/").content.decode())
    assert "Your protection was broken for a while, and is blocked as reported." in sheet


def test_a_clearance_that_is_over_is_not_asked_about(cast: Cast) -> None:
    one = cast.job("people and grounds off")
    seen(cast, "C-221", "B", "closed")
    watch.look()
    cast.release(Clearance.objects.get(pk=one.pk))
    assert watch.waiting() == []
    watch.look()
    assert only().gone_at is not None
    assert "is over" in LogEntry.objects.order_by("-number")[0].words
    assert list(flags.reached()) == []
