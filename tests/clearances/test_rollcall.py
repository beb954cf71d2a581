"""The roll-call before a close, on the demo: Bo works on the tap span behind J-207 and C-208."""

import datetime
from typing import ClassVar

import pytest
from django.test import Client
from django.utils import timezone

from clearances import rollcall as roll
from clearances.models import Clearance, RollCall, Step
from clearances.services import rollcall, switching
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .said import codes, texts
from .sql import GIVE_STEP, breaks, refused


class Span(Cast):
    """Bo's clearance: the tap span between the main and the section, opened at both of its ends."""

    points: ClassVar[tuple[str, ...]] = ("J-207", "C-208")
    crew: ClassVar[tuple[str, ...]] = ("Max Lindner",)


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


@pytest.fixture
def jobs(cast: Cast) -> tuple[Clearance, Clearance, Step]:
    """Ana's clearance, released, her tags off C-221; Bo's, with his crew at work; the close of C-221."""
    one = cast.job("told")
    span = Span.present()
    bos = span.bring(span.asked(holder=cast.bo, from_pole="P-207", to_pole="P-208"), "accepted")
    one = cast.bring(fresh(one), "people and grounds off", "told")
    cast.release(fresh(one))
    untag, close = (step for step in cast.steps(one, "restore") if step.device_id == "C-221")
    cast.give_step(one, untag)
    cast.report_step(untag)
    return fresh(one), fresh(bos), close


def give(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=step.order_id).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def call(cast: Cast, step: Step) -> RollCall:
    done(rollcall.call_roll(cast.who(cast.dana), step=step.pk))
    return RollCall.objects.get(step=step, answered_at=None)


def test_whoever_one_wrong_report_would_hit_is_asked_and_silence_is_a_no(
    cast: Cast, jobs: tuple[Clearance, Clearance, Step]
) -> None:
    """Closing C-221 energizes the section up to C-208. If C-208 stood closed in truth, Bo's span would be
    energized: he is asked, live, and the close waits for his yes."""
    _, bos, close = jobs
    silent = (
        f"{cast.bo}, {cast.bo.phone} (clearance {bos.pk}) has not said yes to closing C-221 ABC: nothing but "
        "C-208 would stand between."
    )
    assert texts(give(cast, close)) == [silent]
    question = call(cast, close)
    assert question.why == "C-221 A, B, C is to be closed: nothing but C-208 would stand between."
    assert texts(give(cast, close)) == [silent]
    refused("roll_call_answered", GIVE_STEP, cast.dana.pk, close.pk)

    assert codes(rollcall.answer_roll_call(cast.who(cast.ana), call=question.pk, agrees=True)) == [
        "not_the_holder"
    ]
    entry = done(rollcall.answer_roll_call(cast.who(cast.bo), call=question.pk, agrees=False)).entry
    assert entry.words == f"{cast.bo} to closing C-221 A, B, C by order {close.order_id}: NO."
    assert codes(give(cast, close)) == ["holder_silent"]
    said = refused("roll_call_answered", GIVE_STEP, cast.dana.pk, close.pk)
    assert said == f"The holder of clearance {bos.pk} has said no to closing C-221."

    by_radio = cast.who(cast.dana, cast.bo, "radio")
    done(rollcall.answer_roll_call(by_radio, call=call(cast, close).pk, agrees=True))
    assert roll.machines(close) == ()
    done(give(cast, close))


def test_a_yes_stands_for_a_quarter_of_an_hour(
    cast: Cast, jobs: tuple[Clearance, Clearance, Step], monkeypatch: pytest.MonkeyPatch
) -> None:
    close = jobs[2]
    done(rollcall.answer_roll_call(cast.who(cast.bo), call=call(cast, close).pk, agrees=True))
    assert roll.silent(close) == ()
    later = timezone.now() + datetime.timedelta(minutes=16)
    monkeypatch.setattr(timezone, "now", lambda: later)
    assert [hit.holder for hit in roll.silent(close)] == [str(cast.bo)]


def test_an_answer_is_given_once_and_stands(cast: Cast, jobs: tuple[Clearance, Clearance, Step]) -> None:
    question = call(cast, jobs[2])
    breaks(
        "roll_call_answered_by_someone",
        "UPDATE clearances_rollcall SET agrees = true WHERE id = %s",
        question.pk,
    )
    done(rollcall.answer_roll_call(cast.who(cast.bo), call=question.pk, agrees=False))
    again = rollcall.answer_roll_call(cast.who(cast.bo), call=question.pk, agrees=True)
    assert codes(again) == ["no_roll_to_call"]
    refused("history_is_kept", "UPDATE clearances_rollcall SET agrees = true WHERE id = %s", question.pk)
    refused("history_is_kept", "DELETE FROM clearances_rollcall WHERE id = %s", question.pk)


def test_nobody_is_asked_about_what_hits_nobody(cast: Cast) -> None:
    one = cast.job("released")
    untag, close, *_ = cast.steps(one, "restore")
    assert codes(rollcall.call_roll(cast.who(cast.dana), step=untag.pk)) == ["no_roll_to_call"]
    assert texts(rollcall.call_roll(cast.who(cast.dana), step=close.pk)) == [
        f"Nobody has to be asked about closing {close.device_id} A, B, C."
    ]
    assert codes(rollcall.answer_roll_call(cast.who(cast.ana), call=999, agrees=True)) == ["unknown"]


def test_the_holder_sees_the_question_on_the_sheet_and_the_desk_enters_the_answer(
    cast: Cast, jobs: tuple[Clearance, Clearance, Step]
) -> None:
    one, bos, close = jobs
    question = call(cast, close)
    phone, desk = Client(), Client()
    phone.force_login(cast.bo)
    desk.force_login(cast.dana)
    sheet = phone.get(f"/field/clearances/{bos.pk}/").content.decode()
    assert "The desk calls the roll." in sheet
    assert f"/do/answer_roll_call/?call={question.pk}" in sheet
    page = phone.get(f"/do/answer_roll_call/?call={question.pk}").content.decode()
    assert "would stand between" in page
    shown = desk.get(f"/desk/clearances/{one.pk}/").content.decode()
    assert f"Enter the answer of {cast.bo}" in shown
    assert "has not said yes to closing" in shown
    asking = desk.get(f"/do/call_roll/?step={close.pk}").content.decode()
    assert "would stand between" in asking


def test_a_roll_call_ends_with_its_clearance(cast: Cast, jobs: tuple[Clearance, Clearance, Step]) -> None:
    _, bos, close = jobs
    call(cast, close)
    Span.present().bring(bos, "released", "accepted")
    assert roll.silent(close) == ()
    done(give(cast, close))
