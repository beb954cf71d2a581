"""The desk's first screen: who is on the line, what is out of its normal position, what needs somebody."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from clearances.models import Clearance, LogEntry, Step
from clearances.services import asking, on_the_line, reporting
from notifications.models import Heartbeat
from tests.cast import Cast, done

from .looking import Seen, acts, look
from .plays import Tap, called_off


def desk(cast: Cast) -> Seen:
    return look(cast.dana, "/desk/")


def needs(seen: Seen, word: str) -> list[dict[str, Any]]:
    """What needs somebody and begins with `word`."""
    return [need for need in seen.context["needs"] if need["word"].startswith(word)]


def alive() -> None:
    for name in ("worker", "beat"):
        Heartbeat.objects.update_or_create(name=name, defaults={"at": timezone.now()})


def found(cast: Cast, device: str, phases: str, position: str) -> None:
    done(
        reporting.report_position(
            cast.who(cast.sal), device=device, phases=phases, position=position, done_at=timezone.now()
        )
    )


def test_a_quiet_desk_says_so(cast: Cast) -> None:
    alive()
    seen = desk(cast)
    assert "Nobody holds a work clearance." in seen.text
    assert "Every device is reported in its normal position." in seen.text
    assert "Nothing waits for you." in seen.text
    assert [count["n"] for count in seen.context["customers"]["counts"]] == [0, 0, 0]


def test_who_is_on_the_line_now(cast: Cast) -> None:
    job = cast.job("working")
    seen = desk(cast)
    (crew,) = seen.context["crews"]
    assert (crew["number"], crew["holder"], crew["phone"], crew["channel"]) == (
        job.pk, "Ana Duarte", "555-0117", "channel 2",
    )  # fmt: skip
    assert crew["limits"] == "Primary P-213 to P-218, phases A, B, C."
    assert (crew["points_done"], crew["points_all"], crew["people"]) == (4, 4, 2)
    assert crew["grounds"] == ["G3 P-214", "G5 P-215"]
    assert "C-221 A B C open, barrels out, secured" in crew["points"]
    # C-208 has J-207 beyond it, which is closed: what lies there is energized from the main as well.
    assert "P-208 Quarry Lane beyond C-208 (12.47 kV)" in crew["nearby"]
    assert "On the line now: 1 work clearance, 2 people, 2 ground sets" in seen.text


def test_the_step_that_is_out_and_the_phases_awaited(cast: Cast) -> None:
    job = cast.job("told")
    first, second = cast.steps(job, "isolate")[:2]
    cast.give_step(job, first)
    cast.report_step(first)
    cast.give_step(job, second)
    cast.report_step(second, "A", tag=False)
    seen = desk(cast)
    (step,) = seen.context["given"]
    assert (step["words"], step["device"], step["where"]) == ("Open", "C-221", "P-221 Quarry Lane")
    assert step["progress"] == "A reported, B C waits"
    assert (step["to"], step["phone"], step["waiting"]) == ("Sal Moreno", "555-0128", "")
    assert acts(seen, "report_step") == [f"/do/report_step/?step={second.pk}&back=%2Fdesk%2F"]
    assert not acts(seen, "call_step_back")
    # Phase A of what hangs on C-221 and C-208 may be fed back from B and C through the bank T-218.
    assert "of them may be backfed: voltage not known." in seen.text


def test_a_step_silent_for_a_quarter_of_an_hour_needs_a_call(cast: Cast) -> None:
    job = cast.job("told")
    step = cast.steps(job, "isolate")[0]
    cast.give_step(job, step)
    assert not needs(desk(cast), "Step 1")
    Step.objects.filter(pk=step.pk).update(given_at=timezone.now() - timedelta(minutes=16))
    seen = desk(cast)
    (need,) = needs(seen, "Step 1")
    assert need["level"] == "now"
    assert "is not reported for 16 min. Call Sal Moreno, 555-0128." in need["text"]
    assert seen.context["given"][0]["waiting"] == "16 min"


def test_out_of_normal_position_with_whose_tag(cast: Cast) -> None:
    job = cast.job("isolated")
    found(cast, "N-7", "ABC", "closed")
    rows = {row["device"]: row for row in desk(cast).context["abnormal"]}
    assert set(rows) == {"C-208", "C-221", "D-219", "D-212", "N-7"}
    assert rows["C-221"]["tags"] == [{"number": f"{job.pk}-2", "holder": "Ana Duarte"}]
    assert rows["C-221"]["why"] == f"clearance {job.pk}"
    assert (rows["N-7"]["position"], rows["N-7"]["why"]) == ("A B C closed", "no reason on the board")


def test_a_broken_proof_prints_its_path(cast: Cast) -> None:
    job = cast.job("working")
    assert not needs(desk(cast), "A source")
    found(cast, "C-221", "B", "closed")
    need = needs(desk(cast), "A source")[0]
    assert need["level"] == "now"
    assert need["word"] == f"A source reaches the limits of {job.pk}:"
    assert "feeder 12 > B-12" in need["text"]
    assert "> C-221 >" in need["text"]
    assert "(phase B). Call Ana Duarte, 555-0117." in need["text"]
    assert desk(cast).context["crews"][0]["nearby"] == "Energized: the limits themselves, phase B."
    assert need["act"]["url"] == f"/desk/clearances/{job.pk}/"


def test_frozen_and_late(cast: Cast) -> None:
    job = cast.bring(cast.asked(start=timezone.now() - timedelta(hours=2)), "accepted")
    cast.test(job, "present")
    Clearance.objects.filter(pk=job.pk).update(promised_end=timezone.now() - timedelta(minutes=12))
    seen = desk(cast)
    (frozen,) = needs(seen, f"{job.pk} is FROZEN")
    assert "VOLTAGE PRESENT at P-214" in frozen["text"]
    (late,) = needs(seen, "Late")
    assert "is 12 min past its promised end" in late["text"]
    assert late["act"]["url"].startswith(f"/do/move_promised_end/?clearance={job.pk}")
    assert seen.context["crews"][0]["late"] == "12 min past"


def test_what_does_not_fit_stays_until_somebody_answers(cast: Cast) -> None:
    found(cast, "C-280", "B", "open")
    (need,) = needs(desk(cast), "Entry")
    entry = LogEntry.objects.latest("number")
    assert "C-280 B found open, with no order behind it." in need["text"]
    assert need["act"]["url"].startswith(f"/do/answer_irregular/?entry={entry.pk}")
    done(reporting.answer_irregular(cast.who(cast.dana), entry=entry.pk, answer="looked at, a blown link"))
    assert not needs(desk(cast), "Entry")


def test_a_remark_asks_for_a_look(cast: Cast) -> None:
    done(on_the_line.remark(cast.who(cast.mira), words="9 Ferry Street: half bright", done_at=timezone.now()))
    (need,) = needs(desk(cast), "Somebody asks")
    assert (need["level"], need["text"]) == ("soon", "Mira Patel: 9 Ferry Street: half bright")


def test_what_each_plan_waits_for(cast: Cast) -> None:
    alive()
    job = cast.job("asked")
    assert needs(desk(cast), f"Request {job.pk} waits for a plan")
    job = cast.bring(job, "order written")
    (own,) = needs(desk(cast), f"Order {job.pk} waits for a check")
    assert own["act"]["label"] == f"Look at {job.pk}"  # Dana wrote it
    (others,) = needs(look(cast.ines, "/desk/"), f"Order {job.pk} waits for a check")
    assert others["act"]["url"].startswith(f"/do/check_order/?clearance={job.pk}")
    cast.check(job)
    seen = desk(cast)
    assert "62 customers of Ana Duarte" in needs(seen, f"Customers of {job.pk} are not told")[0]["text"]
    (alone,) = needs(seen, "Life-support")
    assert "22 Quarry Lane: no person has answered." in alone["text"]
    assert alone["act"]["url"].startswith(f"/do/record_answer/?clearance={job.pk}&premises=1141")
    assert not acts(seen, "give_step")
    cast.tell(Clearance.objects.get(pk=job.pk))
    seen = desk(cast)
    assert not needs(seen, "Life-support")
    assert len(acts(seen, "give_step")) == 1


def test_a_paused_order_waits_for_the_operator(cast: Cast) -> None:
    job = cast.job("told")
    found(cast, "C-221", "B", "open")
    (need,) = needs(desk(cast), f"Order {job.pk} is paused")
    assert "C-221 B found open" in need["text"]
    assert need["act"]["url"].startswith("/do/resume_order/")


def test_tags_left_hanging(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    cast.job("released")
    assert not needs(desk(cast), "Tag left")
    later = timezone.now() + timedelta(minutes=31)
    monkeypatch.setattr(timezone, "now", lambda: later)
    assert len(needs(desk(cast), "Tag left")) == 4


def test_customers_out_by_job_and_without_one(cast: Cast, tap: Tap) -> None:
    cast.job("isolated")
    found(cast, "F-272", "A", "open")
    customers = desk(cast).context["customers"]
    planned, no_job, care = customers["counts"]
    assert (planned["n"], planned["words"]) == (62, "planned")
    assert no_job["n"] > 0
    assert no_job["level"] == "now"
    assert (care["n"], care["level"]) == (1, "")  # the daughter answered
    assert customers["lines"][0].startswith("62 under ")


def test_the_next_day_with_what_is_missing(cast: Cast, tap: Tap) -> None:
    start = timezone.now() + timedelta(hours=20)
    job = cast.bring(cast.asked(start=start), "checked")
    tap.asked(start=start + timedelta(days=2))
    found(cast, "C-208", "ABC", "open")
    (row,) = desk(cast).context["upcoming"]
    assert (row["number"], row["customers"]) == (job.pk, "62")
    assert row["flags"] == ["order paused", "62 customers not told", "1 life-support not answered"]


def test_released_today_and_the_day_strip(cast: Cast, tap: Tap) -> None:
    job = cast.job("released")
    other = tap.job("accepted", holder=cast.bo)
    called_off(tap, tap.asked(holder=cast.bo))
    seen = desk(cast)
    (back,) = seen.context["back_today"]
    assert back["number"] == job.pk
    assert "People 2 of 2 off, ground sets 2 of 2 off." in back["words"]
    lanes = {lane["number"]: lane for lane in seen.context["day"]["lanes"]}
    assert {number: lane["kind"] for number, lane in lanes.items()} == {job.pk: "back", other.pk: "out"}
    for lane in lanes.values():
        for bar in lane["bars"]:
            assert 0 <= bar["x"] <= bar["x"] + bar["w"] <= 100.01


def test_two_that_meet_are_named(cast: Cast) -> None:
    one = cast.job("accepted")
    two = cast.asked(holder=cast.bo, from_pole="P-217", to_pole="P-219")
    (meet,) = desk(cast).context["conflicts"]
    assert f"The limits of {one.pk} (Ana Duarte, 555-0117) and {two.pk} (Bo Lindqvist, 555-0142)" in meet
    assert "P-217, P-218" in meet


def test_the_machinery_standing_still_is_said(cast: Cast) -> None:
    alive()
    assert not needs(desk(cast), "Worker")
    Heartbeat.objects.filter(name="worker").update(at=timezone.now() - timedelta(seconds=100))
    assert needs(desk(cast), "Worker not heard for 100 s.")


def test_others_look_without_the_acts_of_an_operator(cast: Cast) -> None:
    cast.job("told")
    seen = look(cast.jon, "/desk/")
    assert seen.status == 200
    assert [url for url in seen.urls() if url.startswith("/do/")] == []


def test_a_request_in_the_evening_makes_the_strip_longer(cast: Cast) -> None:
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    who = cast.who(cast.bo)
    day = timedelta(days=1)
    done(
        asking.ask_for_clearance(
            who, from_pole="P-272", to_pole="P-273", phases="ABC", work="New pole", crew="line 2",
            reason_for_customers="new pole", window_start=midnight + day - timedelta(hours=2),
            promised_end=midnight + day + timedelta(hours=2),
            latest_finish=midnight + day + timedelta(hours=3), recall_minutes=15,
        )
    )  # fmt: skip
    (lane,) = desk(cast).context["day"]["lanes"]
    (bar,) = lane["bars"]
    assert bar["kind"] == "plan"
    assert round(bar["x"] + bar["w"]) == 100
