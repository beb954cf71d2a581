"""The pages of a circuit and a device, on the demo network and the morning of the example."""

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from pytest_django import DjangoAssertNumQueries, Settings

from circuits.models import Device, NetworkRevision
from circuits.oneline import Band
from circuits.upward import Marks
from tests.circuits.conftest import report

pytestmark = pytest.mark.usefixtures("demo_network")


@pytest.fixture
def client(db: None, settings: Settings) -> Client:
    """Somebody who may look."""
    settings.NETWORK_MAY_LOOK = ""
    settings.NETWORK_MARKS = ""
    person = get_user_model().objects.create_user("dana")
    signed_in = Client()
    signed_in.force_login(person)
    return signed_in


def page(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def nobody(user: object) -> bool:
    return False


def one_tag() -> Marks:
    return Marks(tags={"C-208": ["42-1"]}, bands=[Band("42 · Lindqvist · 6", [("P-208", "ABC")])])


@pytest.mark.parametrize("path", ["/desk/circuits/12/", "/desk/devices/C-208/"])
def test_only_those_who_are_signed_in_and_may_look(client: Client, settings: Settings, path: str) -> None:
    assert Client().get(path).status_code == 302
    settings.NETWORK_MAY_LOOK = "tests.circuits.test_views.nobody"
    assert client.get(path).status_code == 403


@pytest.mark.parametrize("path", ["/desk/circuits/99/", "/desk/devices/C-999/"])
def test_what_is_not_there(client: Client, path: str) -> None:
    assert client.get(path).status_code == 404


def test_a_circuit_tells_its_states_in_words_and_what_is_not_normal(client: Client) -> None:
    report("J-207", "ABC", "open", "07:20")
    report("C-208", "ABC", "open", "07:25")
    report("C-221", "A", "open", "08:41")
    said = page(client, "/desk/circuits/12/")
    assert "P-208 to P-214: A: possibly backfed, voltage not known; B, C: energized" in said
    assert "Out of normal position on feeder 12: 3" in said
    assert "J-207 at P-207, Quarry Lane: A, B, C open." in said


def test_tags_and_work_clearances_come_from_above(client: Client, settings: Settings) -> None:
    settings.NETWORK_MARKS = "tests.circuits.test_views.one_tag"
    said = page(client, "/desk/circuits/12/")
    assert "tag 42-1" in said
    assert "42 · Lindqvist · 6" in said
    assert "42-1" in page(client, "/desk/devices/C-208/")


def test_a_device_by_phase_with_its_four_times_and_history(client: Client) -> None:
    report("C-221", "A", "open", "08:41")
    report("C-221", "A", "closed", "11:46")
    report("C-221", "B", "open", "08:43")
    said = page(client, "/desk/devices/C-221/")
    assert "no report: its normal position" in said
    assert 'toward <span class="keep">P-220</span>' in said
    assert said.count("Sal Moreno, radio") == 5
    assert 'energized from <span class="keep">ST-1</span>' in said


def test_what_is_not_known_is_said_to_count_as_the_worse_case(client: Client) -> None:
    Device.objects.filter(pk="C-221").update(visible_break=None, recloses=None)
    said = page(client, "/desk/devices/C-221/")
    assert "not known: counts as none" in said
    assert "not known: counts as yes" in said
    assert "not known: counts as no load" in said


def test_a_device_that_left_the_network_has_a_history(client: Client) -> None:
    report("C-233", "B", "open", "08:41")
    # Retired by hand, and the network read again.
    revision = NetworkRevision.objects.create(imported_at="2026-05-14T12:00Z", digest="by hand")
    Device.objects.filter(pk="D-212").update(retired_in=revision)
    assert "An import has taken this device out of the network" in page(client, "/desk/devices/D-212/")


def test_a_page_asks_little(client: Client, django_assert_max_num_queries: DjangoAssertNumQueries) -> None:
    page(client, "/desk/circuits/12/")
    with django_assert_max_num_queries(12):
        page(client, "/desk/circuits/12/")
