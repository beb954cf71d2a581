"""The proof and the plans of limits, over the API: on the demo network and the morning of the example."""

from typing import Any

import pytest
from django.test import Client

from circuits import ratings, upward
from circuits.isolation_api import IsolationSerializer
from clearances.models import Person
from tests.circuits.conftest import report

pytestmark = pytest.mark.usefixtures("demo_network")

LIMITS: dict[str, Any] = {"from_structure": "P-213", "to_structure": "P-218", "phases": "ABC"}


@pytest.fixture
def client(db: None) -> Client:
    """An operator."""
    person = Person.objects.create_user("dana", first_name="Dana", last_name="Whitlock", roles=["operator"])
    signed_in = Client()
    signed_in.force_login(person)
    return signed_in


def ask(client: Client, *, status: int = 200, **question: Any) -> dict[str, Any]:
    answer = client.post("/api/v1/network/isolation", question, content_type="application/json")
    assert answer.status_code == status, answer.content
    found: dict[str, Any] = answer.json()
    return found


def test_the_example_s_section(client: Client) -> None:
    window = {"start": "2026-05-14T08:30:00-04:00", "end": "2026-05-14T12:00:00-04:00"}
    found = ask(client, **LIMITS, window=window)
    first = found["plans"][0]
    assert [point["device"] for point in first["points"]] == ["C-208", "C-221", "D-219", "F-212"]
    assert first["customers"] == first["customers_without_ties"] == 62
    assert first["customer_minutes"] == 62 * 210
    assert first["proven"]
    assert first["shared"] == []
    assert first["sentences"][0] == "Open C-208 (phases A, B, C) and tag it."
    assert found["cannot"] == ""
    assert found["thrown_away"] == []
    assert {line["from_source"] for line in found["proof"]["lines"]} >= {"ST-1", "GEN-219"}
    assert all(line["status"] != "blocked" for line in found["proof"]["lines"])
    assert "Volts were not computed" in found["assumptions"][0]
    assert "No peak is on record: loads are the sizes of the transformers, connected kVA." in found["told"]
    assert IsolationSerializer(data=found).is_valid()


def test_it_starts_from_where_devices_are_reported_to_stand(client: Client) -> None:
    report("C-208", "ABC", "open", "07:25")
    first = ask(client, **LIMITS, how_many=1)["plans"][0]
    assert next((point["open"], point["check_open"]) for point in first["points"]) == ("", "ABC")
    assert first["operations"] == 3
    assert first["customer_minutes"] is None


def test_a_point_that_another_has_too_is_said(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    others = upward.InTheWay(shared={"C-208": "C-208 is another's too.", "C-999": "Gone."})
    monkeypatch.setattr(upward, "in_the_way", lambda window, but: others)
    first = ask(client, **LIMITS, how_many=1)["plans"][0]
    assert [point["open"] for point in first["points"] if point["device"] == "C-208"] == ["ABC"]
    assert first["shared"] == ["C-208 is another's too."]
    assert "C-208 is another's too." in first["sentences"]


def test_a_transformer_and_nodes_by_phase(client: Client) -> None:
    behind = ask(client, transformer="T-210")
    assert [point["device"] for point in behind["plans"][0]["points"]] == ["F-210"]
    assert behind["plans"][0]["customers"] == 8
    nodes = ask(client, nodes=[{"node": "P-210", "phases": "A"}], by_phase=True)
    assert [point["open"] for point in nodes["plans"][0]["points"]] == ["A", "A", "A"]
    assert len(nodes["plans"][0]["partly"]) == 1


def test_limits_at_the_station(client: Client) -> None:
    found = ask(client, nodes=[{"node": "ST-1", "phases": "A"}])
    assert found["plans"] == []
    assert found["cannot"].startswith("No device that may be used stands between these limits and a source")


@pytest.mark.parametrize(
    ("question", "says"),
    [
        (LIMITS | {"to_structure": "P-999"}, "There is no pole or other structure P-999."),
        ({"transformer": "T-999"}, "There is no transformer T-999."),
        ({"nodes": [{"node": "P-999", "phases": "A"}]}, "No node P-999."),
        ({"nodes": [{"node": "P-251", "phases": "A"}]}, "Node P-251 has no phase A."),
        ({"phases": "ABC"}, "Give the limits in one way"),
        (LIMITS | {"transformer": "T-210"}, "Give the limits in one way"),
        (
            LIMITS | {"window": {"start": "2026-05-14T12:00:00Z", "end": "2026-05-14T12:00:00Z"}},
            "The window ends before it begins.",
        ),
    ],
)
def test_what_is_not_there(client: Client, question: dict[str, Any], says: str) -> None:
    assert says in str(ask(client, status=400, **question))


def test_the_least_of_rating_link_and_circuit() -> None:
    amps = ratings.ratings().amps
    assert amps["device", "C-208"] == 40  # its link is 40K, the cutout 100 A
    assert amps["device", "B-12"] == 400  # the circuit's limit, the breaker 600 A
    assert min(one for (kind, _), one in amps.items() if kind == "line") == 140  # 4 ACSR
