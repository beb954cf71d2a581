"""What the forms put in nobody's mouth, and how they read a time and a pole."""

import datetime
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from circuits import positions
from clearances.acts.base import PHONE
from clearances.acts.fields import ClockField, PoleField
from clearances.models import Clearance, GroundSet, LogEntry, Step, VoltageTest
from tests.cast import Cast

from .looking import acts, look, signed_in
from .plays import Tap

NOON = datetime.datetime(2026, 11, 26, 12, 0, 30, tzinfo=datetime.UTC)


@pytest.fixture
def noon(monkeypatch: pytest.MonkeyPatch) -> datetime.datetime:
    """The clock stands at 12:00:30 where the utility is."""
    now = timezone.localtime(NOON)
    now += datetime.timedelta(hours=12 - now.hour)
    monkeypatch.setattr(timezone, "now", lambda: now)
    return now


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("12:00", 0),  # the present minute is now
        ("11:59", -30.000001),  # a minute that is over counts by its end
        ("11:30", -(29 * 60 + 30.000001)),
        ("12:01", 30),  # ahead, as a fast clock has it: kept as said, and marked where it is reported
        ("13:00", -23 * 3600 + 29.999999),  # not today's
    ],
)
def test_a_typed_minute(noon: datetime.datetime, typed: str, seconds: float) -> None:
    at = ClockField().clean(typed)
    assert at - noon == datetime.timedelta(seconds=seconds)


def send(cast: Cast, path: str, **answers: Any) -> Any:
    now = f"{timezone.localtime():%H:%M}"
    return signed_in(cast.sal).post(path, {"key": str(uuid4()), "done_at": now} | answers)


def test_the_later_entry_of_the_same_minute_wins(cast: Cast) -> None:
    """Opened and closed again within one minute, entered afterwards, one after the other."""
    earlier = f"{timezone.localtime() - datetime.timedelta(minutes=2):%H:%M}"
    for position in ("open", "closed", "open"):
        answers = {"device": "C-208", "phases": ["A"], "position": position, "done_at": earlier}
        assert send(cast, "/do/report_position/", **answers).status_code == 303
        assert ("C-208" in positions.open_phases()) == (position == "open")


@pytest.mark.parametrize("typed", ["P-214", "p-214", "p214", "214", " P-214 "])
def test_a_pole_as_it_is_typed(cast: Cast, typed: str) -> None:
    assert PoleField().clean(typed) == "P-214"


def test_a_pole_that_is_not_on_the_network_stays_as_typed(cast: Cast) -> None:
    assert PoleField().clean("P-2x4") == "P-2x4"


def test_grounds_and_tests_have_the_poles_of_the_network(cast: Cast) -> None:
    job = cast.job("accepted")
    at = {"pole": "p214", "phases": ["A", "B", "C"]}
    test = {"result": "none", "instrument": "tester 12", "tester_proven": "on"}
    assert send(cast, f"/do/report_test/?clearance={job.pk}", **at, **test).status_code == 303
    assert send(cast, f"/do/ground_on/?clearance={job.pk}", label="G3", **at).status_code == 303
    assert (VoltageTest.objects.get().pole, GroundSet.objects.get().pole) == ("P-214", "P-214")


def given(cast: Cast, place: int = 0) -> tuple[Clearance, Step]:
    job = cast.job("told")
    step = cast.steps(job, "isolate")[place]
    cast.give_step(job, step)
    return job, step


def fields(cast: Cast, step: Step) -> dict[str, Any]:
    """The fields of the report, each with what stands in it when it is opened."""
    form = look(cast.sal, f"/do/report_step/?step={step.pk}").context["form"]
    return {
        name: form[name].value() or "" for name in form.fields if name in ("phases", "made_inoperable", "tag")
    }


def test_a_report_is_not_filled_in_beforehand(cast: Cast) -> None:
    _, step = given(cast)
    assert fields(cast, step) == {"phases": "", "made_inoperable": "", "tag": ""}
    text = look(cast.sal, f"/do/report_step/?step={step.pk}").text
    assert "Usually: barrels out, secured" in text
    path = f"/do/report_step/?step={step.pk}"
    answer = send(cast, path, phases=["A"])
    assert answer.status_code == 422
    assert "Say how it is kept from being closed." in answer.content.decode()
    assert not LogEntry.objects.filter(verb="report_step").exists()
    assert send(cast, path, phases=["A", "B"], made_inoperable="barrels out").status_code == 303
    assert fields(cast, step)["phases"] == ["C"]  # one is left: no choice
    assert send(cast, path, phases=["C"], made_inoperable="barrel out").status_code == 303
    assert fields(cast, step) == {"tag": ""}  # all that is left
    assert send(cast, path).status_code == 422
    assert send(cast, path, tag="on").status_code == 303
    step.refresh_from_db()
    assert step.state == "reported"
    found = positions.details(["C-208"]).values()
    assert [one and one.made_inoperable for one in found] == ["barrels out", "barrels out", "barrel out"]


def test_a_single_phase_is_ticked(tap: Tap) -> None:
    _, step = given(tap)
    assert fields(tap, step)["phases"] == ["B"]


def test_a_tag_is_off_when_it_is_ticked(tap: Tap) -> None:
    job = tap.job("released")
    untag, close = tap.steps(job, "restore")
    tap.give_step(job, untag)
    assert fields(tap, untag) == {"tag": ""}
    path = f"/do/report_step/?step={untag.pk}"
    refused = send(tap, path)
    assert refused.status_code == 422
    assert f"Tick it when tag {job.pk}-1 is off." in refused.content.decode()
    assert send(tap, path, tag="on").status_code == 303
    tap.give_step(job, close)
    assert fields(tap, close) == {"phases": ["B"]}


def test_a_tag_that_has_blown_off_is_told_from_the_phone(tap: Tap) -> None:
    job = tap.job("accepted")
    home = look(tap.sal, "/field/")
    (path,) = (url for url in acts(home, "report_position") if "tag=1" in url)
    form = look(tap.sal, path).context["form"]
    assert [name for name in form.fields if name not in ("key", *PHONE)] == [
        "device", "phases", "position", "tag", "tag_number", "done_at", "remark",
    ]  # fmt: skip
    answers = {"device": "c-233", "phases": ["B"], "position": "open", "tag": "gone"}
    assert send(tap, path, **answers).status_code == 303
    assert f"Tag {job.pk}-1 is gone from C-233." in LogEntry.objects.latest("number").irregular
    assert any("tag=1" in url for url in acts(look(tap.dana, "/desk/"), "report_position"))


def test_how_it_stands_open_is_told_from_the_phone(tap: Tap) -> None:
    tap.job("accepted")
    answers = {"device": "C-233", "phases": ["B"], "position": "operable"}
    assert send(tap, "/do/report_position/", **answers).status_code == 303
    assert LogEntry.objects.latest("number").irregular.startswith("It can be closed.")
    answers |= {"position": "open", "made_inoperable": "barrel out again"}
    assert send(tap, "/do/report_position/", **answers).status_code == 303
    report = positions.details(["C-233"])["C-233", "B"]
    assert report
    assert report.made_inoperable == "barrel out again"
