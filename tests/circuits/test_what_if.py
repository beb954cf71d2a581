"""What if, over the API: on the demo network and the morning of the example."""

import datetime
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from circuits import whatif
from circuits.models import NetworkRevision, PositionReport
from circuits.whatif_api import WhatIfSerializer
from clearances.models import Person
from tests.circuits.conftest import at, report

pytestmark = pytest.mark.usefixtures("demo_network")


@pytest.fixture
def client(db: None) -> Client:
    """An operator."""
    person = Person.objects.create_user("dana", first_name="Dana", last_name="Whitlock", roles=["operator"])
    signed_in = Client()
    signed_in.force_login(person)
    return signed_in


def ask(client: Client, status: int = 200, **question: str) -> dict[str, Any]:
    answer = client.post("/api/v1/network/what-if", question, content_type="application/json")
    assert answer.status_code == status, answer.content
    found: dict[str, Any] = answer.json()
    return found


def morning() -> None:
    report("J-207", "ABC", "open", "07:20")
    report("C-208", "ABC", "open", "07:25")


def test_8_41_phase_a_of_c_221(client: Client) -> None:
    morning()
    found = ask(client, device="C-221", phases="A", operation="open")
    assert found["sentences"][0] == (
        "9 customers would be on part of their phases, or on a voltage that is not known: "
        "8 of T-210, 1 of T-218."
    )
    assert found["premises"]["before"] == {"energized": 198, "backfed": 0, "generator": 0, "deenergized": 0}
    assert found["premises"]["after"] == {"energized": 189, "backfed": 9, "generator": 0, "deenergized": 0}
    assert len(found["premises"]["newly_backfed"]) == 9
    assert found["premises"]["newly_out"] == []
    (line, bank) = found["changes"]
    assert (line["phases"], line["before"], line["after"]) == ("A", "energized", "backfed")
    assert "P-209" in line["nodes"]
    assert bank["nodes"] == ["T-218s"]
    assert found["kva"] == {"A": 50.0}
    assert WhatIfSerializer(data=found).is_valid()


def test_it_starts_from_where_devices_are_reported_to_stand(client: Client) -> None:
    morning()
    report("C-221", "AB", "open", "08:43")
    assert len(ask(client, device="C-221", operation="open")["premises"]["newly_out"]) == 62
    report("C-221", "C", "open", "08:44")
    found = ask(client, device="C-221", operation="open")
    assert (found["moved"], found["sentences"]) == (
        "",
        ["Phases A, B, C of C-221 stand open already: nothing would change."],
    )


def test_nothing_is_recorded_by_asking(client: Client) -> None:
    ask(client, device="C-221", phases="A", operation="open")
    assert not PositionReport.objects.exists()


def test_a_loop_is_named_with_what_closes_it(client: Client) -> None:
    found = ask(client, device="N-7", operation="close")
    (loop,) = found["made"]["loops"]
    assert loop == {
        "phases": "ABC",
        "devices": ["B-12", "B-14", "N-7", "R-31"],
        "sources": [],
        "like": True,
        "out_of_step": False,
    }
    assert found["sentences"] == ["A loop is closed by B-12, B-14, N-7 and R-31 (phases A, B, C)."]
    assert found["undone"] == {"unlike": [], "loops": [], "two_feeds": []}


def test_a_past_time_is_answered_by_what_was_done_until_then(client: Client) -> None:
    morning()
    report("C-221", "ABC", "open", "08:44")
    NetworkRevision.objects.update(imported_at=at("05:00"))
    then = ask(client, device="C-221", phases="C", operation="open", at=at("08:40").isoformat())
    assert len(then["premises"]["newly_backfed"]) == 24
    assert then["computed_from"].startswith("Network revision ")
    assert (
        "positions by what was done until Thu 14 May 2026 04:40, as reported until" in then["computed_from"]
    )
    assert "is on record of that time" not in then["computed_from"]
    now = ask(client, device="C-221", phases="C", operation="open")
    assert now["moved"] == ""
    assert "positions as reported until" in now["computed_from"]


def test_before_the_first_network_it_is_said_that_none_is_on_record(client: Client) -> None:
    found = ask(client, device="C-221", operation="open", at=at("08:40").isoformat())
    assert found["computed_from"].endswith("No network is on record of that time; this is the first.")


def test_a_time_to_come_is_not_known(client: Client) -> None:
    ahead = datetime.datetime(2099, 5, 14, 12, tzinfo=datetime.UTC)
    said = ask(client, 400, device="C-221", operation="open", at=ahead.isoformat())
    assert said == {
        "detail": "Thu 14 May 2099 08:00 is still to come: only the present network is known, and what was "
        "reported of it."
    }


def test_nothing_is_known_of_long_ago(client: Client) -> None:
    said = ask(client, 400, device="C-221", operation="open", at="0001-01-02T00:00:00Z")
    assert said == {"detail": "Nothing is known of the year 1."}


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({"device": "C-999", "operation": "open"}, "There is no device C-999 on the network in use."),
        ({"device": "F-212", "phases": "A", "operation": "open"}, "Device F-212 has no phase A."),
        ({"device": "F-212", "phases": "xyz", "operation": "close"}, "Device F-212 has no phase x."),
    ],
)
def test_what_is_not_there_is_refused_in_a_sentence(
    client: Client, question: dict[str, str], said: str
) -> None:
    assert ask(client, 400, **question) == {"detail": said}


@pytest.mark.parametrize(
    ("question", "field"),
    [
        ({}, "device"),
        ({"device": "C-221"}, "operation"),
        ({"device": "C-221", "operation": "test"}, "operation"),
        ({"device": "C-221", "operation": "open", "at": "soon"}, "at"),
        ({"device": "C-221", "operation": "open", "phases": "ABCA"}, "phases"),
        ({"device": "C\x00", "operation": "open"}, "device"),
    ],
)
def test_what_can_not_be_read_is_named_by_its_field(
    client: Client, question: dict[str, str], field: str
) -> None:
    assert field in ask(client, 400, **question)


def test_another_operation_has_no_answer_for_a_page_either() -> None:
    with pytest.raises(whatif.CannotSayError, match=r"^Test is no operation: write open or close\.$"):
        whatif.ask(device="C-221", operation="test")


def test_a_question_asks_little(
    client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    ask(client, device="C-221", operation="open")
    with django_assert_max_num_queries(4):
        whatif.ask(device="C-221", operation="open")
