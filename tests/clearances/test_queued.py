"""What a telephone had to keep for a while (S46), and one whose clock is wrong (S47)."""

import datetime
import json
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from circuits import positions
from clearances import facts
from clearances.models import Clearance, LogEntry, Person
from clearances.rules.queued import MAY_WAIT
from clearances.services import VERBS, giving, on_the_line, reporting
from clearances.services.phone import Phone
from clearances.services.verb import Who
from tests.cast import Cast, done

from .looking import signed_in
from .plays import Tap
from .said import codes

HOUR = datetime.timedelta(hours=1)
MINUTE = datetime.timedelta(minutes=1)


def by_phone(person: Person, waited: datetime.timedelta, ahead: datetime.timedelta = 0 * MINUTE) -> Who:
    """Pressed `waited` ago on a telephone whose clock runs `ahead`."""
    now = timezone.now() + ahead
    return Who(person, key=uuid4(), phone=Phone(now - waited, now, 7))


def test_only_observations_may_wait() -> None:
    assert set(VERBS) > MAY_WAIT
    assert all(VERBS[name].field_word and not VERBS[name].again for name in MAY_WAIT)
    assert not MAY_WAIT & {
        "accept_clearance", "release_clearance", "give_clearance", "give_step", "answer_irregular",
        "record_answer", "agree_on_source", "ground_never_on", "open_now", "end_freeze",
    }  # fmt: skip


def test_s46_nothing_is_released_or_accepted_by_what_waited(cast: Cast) -> None:
    clearance = cast.job("given")
    words: dict[str, Any] = {"clearance": clearance.pk, "read_back": "P-213 to P-218 and four points"}
    assert codes(giving.accept_clearance(by_phone(cast.ana, HOUR), **words)) == ["not_from_a_queue"]
    done(giving.accept_clearance(by_phone(cast.ana, 0 * HOUR), **words))
    statements: dict[str, Any] = {"version": None, "told_everyone": True, "all_off": True}
    late = giving.release_clearance(by_phone(cast.ana, HOUR), clearance=clearance.pk, **statements)
    assert codes(late) == ["not_from_a_queue"]
    assert Clearance.objects.get().state == "accepted"


def test_s46_a_late_report_has_both_times(cast: Cast) -> None:
    clearance = cast.job("tested")
    at = timezone.now() - HOUR
    entry = done(
        on_the_line.sign_on(by_phone(cast.ana, HOUR), clearance=clearance.pk, name="Lee Abara", done_at=at)
    ).entry
    assert entry.done_at == at
    assert entry.reported_at
    assert entry.reported_at - at >= HOUR
    phone = entry.data["phone_clock"]
    assert (phone["sequence"], phone["late"], phone["against"]) == (7, True, [])
    assert "Sent late: the phone said " in entry.words
    assert entry.irregular == ""  # nothing stands against it


def ground(cast: Cast, who: Who, what: str, at: datetime.datetime) -> LogEntry:
    said: dict[str, Any] = {"clearance": Clearance.objects.get().pk, "label": "G3", "done_at": at}
    if what == "on":
        return done(on_the_line.ground_on(who, pole="P-252", phases="B", **said)).entry
    return done(on_the_line.ground_off(who, **said)).entry


def test_s46_a_ground_on_against_what_the_desk_entered_since(tap: Tap) -> None:
    """Queued: on 10:05; entered by the desk: off 10:40. Both stand side by side, and the set counts as on."""
    tap.job("tested")
    off = ground(tap, tap.who(tap.dana, tap.ana, "radio"), "off", timezone.now())
    entry = ground(tap, by_phone(tap.ana, HOUR), "on", timezone.now() - HOUR)
    assert entry.irregular.endswith(f"Against it stands entry {off.number}, entered since: «{off.words}»")
    assert entry.data["phone_clock"]["against"] == [off.number]
    assert facts.facts_of(Clearance.objects.get()).grounds == ("G3 at P-252",)
    client = signed_in(tap.dana)
    page = client.get(f"/do/answer_irregular/?entry={entry.number}").content.decode()
    assert "Entered since" in page
    assert "ground set G3 off" in page


def test_s46_a_late_off_ends_nothing_that_was_put_on_since(tap: Tap) -> None:
    """Nor does a late sign-off take anybody off who signed on since."""
    clearance = tap.job("tested")
    on = ground(tap, tap.who(tap.dana, tap.ana, "radio"), "on", timezone.now())
    entry = ground(tap, by_phone(tap.ana, HOUR), "off", timezone.now() - HOUR)
    assert f"Against it stands entry {on.number}" in entry.irregular
    assert facts.facts_of(clearance).grounds == ("G3 at P-252",)
    name: dict[str, Any] = {"clearance": clearance.pk, "name": "Sal Moreno"}
    done(on_the_line.sign_on(tap.who(tap.ana), done_at=timezone.now(), **name))
    late = on_the_line.sign_off(by_phone(tap.ana, HOUR), done_at=timezone.now() - HOUR, **name)
    assert "Against it stands" in done(late).entry.irregular
    assert facts.facts_of(clearance).people == ("Sal Moreno",)
    done(on_the_line.sign_off(by_phone(tap.ana, 0 * HOUR), done_at=timezone.now(), **name))
    assert facts.facts_of(clearance).people == ()


def test_s46_a_late_position_neither_outranks_nor_hides_a_newer_one(tap: Tap) -> None:
    tap.job("isolated")
    said: dict[str, Any] = {"device": "C-233", "phases": "B"}
    newer = done(
        reporting.report_position(
            tap.who(tap.dana, tap.sal, "radio"), position="closed", done_at=timezone.now(), **said
        )
    ).entry
    late = reporting.report_position(
        by_phone(tap.sal, HOUR), position="open", done_at=timezone.now() - HOUR, **said
    )
    assert f"Against it stands entry {newer.number}" in done(late).entry.irregular
    assert "C-233" not in positions.open_phases()


def test_s46_a_late_test_lifts_no_finding(cast: Cast) -> None:
    clearance = cast.job("accepted")
    cast.test(clearance, result="present")
    said: dict[str, Any] = {
        "clearance": clearance.pk, "pole": "P-214", "phases": "ABC", "result": "none",
        "instrument": "contact tester 12", "tester_proven": True,
    }  # fmt: skip
    late = on_the_line.report_test(by_phone(cast.ana, HOUR), done_at=timezone.now() - HOUR, **said)
    assert "Against it stands" in done(late).entry.irregular
    assert facts.voltage(clearance) == ("P-214, phase A, B, C",)
    version = Clearance.objects.get().version
    ends: dict[str, Any] = {"clearance": clearance.pk, "finding": "induced"}
    assert "voltage_present" in codes(giving.end_freeze(cast.who(cast.dana), version=version, **ends))
    cast.test(clearance)
    done(giving.end_freeze(cast.who(cast.dana), version=Clearance.objects.get().version, **ends))


def test_the_database_lifts_no_finding_by_a_late_test_either(cast: Cast) -> None:
    from .sql import refused, typed

    clearance = cast.job("accepted")
    cast.test(clearance, result="present")
    typed(
        "INSERT INTO clearances_voltagetest (clearance_id, pole, phases, result, instrument, tester_proven,"
        " done_at, said_by, irregular, queued)"
        " VALUES (%s, 'P-214', 'ABC', 'none', '12', true, now(), 'Ana', '', true)",
        clearance.pk,
    )
    refused(
        "no_voltage_found",
        "UPDATE clearances_clearance SET state = 'accepted', frozen_why = '' WHERE number = %s",
        clearance.pk,
    )


def test_a_late_word_that_a_tag_is_gone_takes_none_off(tap: Tap) -> None:
    clearance = tap.job("isolated")
    late = reporting.report_position(
        by_phone(tap.sal, HOUR),
        device="C-233",
        phases="B",
        position="open",
        done_at=timezone.now() - HOUR,
        tag="gone",
    )
    assert "look there again" in done(late).entry.irregular
    assert facts.live_tags().filter(clearance=clearance).count() == 1


def test_a_late_report_of_a_step_takes_no_tag_off_that_was_hung_since(tap: Tap) -> None:
    """Found by the random days. Who stands there and says so now takes it off."""
    clearance = tap.job("released")
    remove = tap.steps(clearance, "restore")[0]
    tap.give_step(clearance, remove)
    off: dict[str, Any] = {"step": remove.pk, "phases": "B", "tag": True}
    late = done(reporting.report_step(by_phone(tap.sal, HOUR), done_at=timezone.now() - HOUR, **off)).entry
    hung = clearance.entries.get(verb="report_step", data__device="C-233", data__position="open")
    assert f"Against it stands entry {hung.number}" in late.irregular
    assert facts.live_tags().filter(clearance=clearance).exists()
    remove.refresh_from_db()
    assert remove.state == "given"
    done(reporting.report_step(tap.who(tap.sal), done_at=timezone.now(), **off))
    assert not facts.live_tags().filter(clearance=clearance).exists()


@pytest.mark.parametrize(("minutes", "said"), [(9, "9 min ahead of"), (-4, "4 min behind")])
def test_s47_a_clock_that_is_wrong_is_told(tap: Tap, minutes: int, said: str) -> None:
    """The board's receipt rules the order; what the telephone said is kept and told."""
    clearance = tap.job("tested")
    who = by_phone(tap.ana, 0 * MINUTE, minutes * MINUTE)
    entry = ground(tap, who, "on", timezone.now())
    assert entry.irregular == f"The phone's clock is {said} the board's."
    assert entry.reported_at
    assert abs(entry.reported_at - timezone.now()) < MINUTE
    assert facts.facts_of(clearance).grounds == ("G3 at P-252",)


def test_s47_a_minute_more_or_less_is_not(tap: Tap) -> None:
    tap.job("tested")
    entry = ground(tap, by_phone(tap.ana, 0 * MINUTE, datetime.timedelta(seconds=58)), "on", timezone.now())
    assert entry.irregular == ""


def test_the_page_sends_what_the_telephone_says(tap: Tap) -> None:
    clearance = tap.job("tested")
    page = signed_in(tap.ana).get(f"/do/sign_on/?clearance={clearance.pk}").content.decode()
    assert 'name="phone_said_at"' in page
    assert (
        'name="phone_said_at"'
        not in signed_in(tap.ana).get(f"/do/accept_clearance/?clearance={clearance.pk}").content.decode()
    )
    now = timezone.now()
    body = {
        "key": str(uuid4()),
        "name": "Lee Abara",
        "done_at": f"{timezone.localtime():%H:%M}",
        "phone_said_at": (now - HOUR).isoformat(),
        "phone_sent_at": now.isoformat(),
        "phone_sequence": "12",
    }
    answer = signed_in(tap.ana).post(f"/do/sign_on/?clearance={clearance.pk}", body)
    assert answer.status_code == 303
    assert LogEntry.objects.latest("number").data["phone_clock"]["sequence"] == 12
    for wrong in ({"phone_sequence": "no"}, {"phone_said_at": "yesterday"}, {"phone_sent_at": "2026-01-01"}):
        again = body | {"key": str(uuid4())} | wrong
        assert signed_in(tap.ana).post(f"/do/sign_on/?clearance={clearance.pk}", again).status_code == 303
        assert "phone_clock" not in LogEntry.objects.latest("number").data


def test_the_api_takes_what_the_telephone_says(tap: Tap) -> None:
    clearance = tap.job("given")
    now = timezone.now()
    body = {
        "key": str(uuid4()),
        "clearance": clearance.pk,
        "read_back": "all of it",
        "phone_clock": {"said_at": (now - HOUR).isoformat(), "sent_at": now.isoformat(), "sequence": 3},
    }
    client = signed_in(tap.ana)
    answer = client.post("/api/v1/do/accept_clearance/", json.dumps(body), content_type="application/json")
    assert answer.status_code == 422
    assert [one["code"] for one in answer.json()["refusals"]] == ["not_from_a_queue"]


def test_a_telephone_whose_clock_was_never_set_is_heard_all_the_same(tap: Tap) -> None:
    clearance = tap.job("tested")
    epoch = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
    who = Who(tap.ana, key=uuid4(), phone=Phone.of(epoch, epoch + HOUR, 1))
    name: dict[str, Any] = {"clearance": clearance.pk, "name": "Lee Abara"}
    entry = done(on_the_line.sign_on(who, done_at=timezone.now(), **name)).entry
    assert "min behind the board's" in entry.irregular
    assert entry.data["phone_clock"]["late"]
    assert Phone.of(epoch, epoch.replace(year=9999), 1) is None
