"""The pages of circuits and devices, and of finding them, on the demo network and the example's morning."""

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from pytest_django import DjangoAssertNumQueries, Settings

from circuits import snapshot
from circuits.models import Device, NetworkRevision, PositionReport
from circuits.neighbours import neighbours
from circuits.oneline import Band
from circuits.upward import Marks, TagOn
from tests.circuits.conftest import report

pytestmark = pytest.mark.usefixtures("demo_network")


@pytest.fixture
def client(db: None, settings: Settings) -> Client:
    """Somebody who may look."""
    settings.NETWORK_MAY_LOOK = ""
    settings.NETWORK_MARKS = ""
    settings.NETWORK_TAGS_ON = ""
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


def its_tag(device_id: str, user: object) -> list[TagOn]:
    return [TagOn("42-1", "ABC", "work clearance 42, Bo Lindqvist", "/page-of-42")] * (device_id == "C-208")


@pytest.mark.parametrize(
    "path", ["/desk/circuits/12/", "/desk/devices/C-208/", "/desk/find/?q=208", "/desk/map/"]
)
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


def test_a_device_names_its_tags_with_their_clearance(client: Client, settings: Settings) -> None:
    settings.NETWORK_TAGS_ON = "tests.circuits.test_views.its_tag"
    said = page(client, "/desk/devices/C-208/")
    assert '<a href="/page-of-42">work clearance 42, Bo Lindqvist</a>' in said
    assert "No tag is reported on it." in page(client, "/desk/devices/C-221/")


def test_a_quiet_lateral_is_folded_and_can_be_drawn(client: Client) -> None:
    report("C-208", "ABC", "open", "07:25")
    said = page(client, "/desk/circuits/12/")
    assert '<details class="lateral" id="part-2" open>' in said
    assert '<details class="lateral" id="part-3">' in said
    assert "1 drawn because something on it is open" in said
    assert '<details class="lateral" id="part-3" open>' in page(client, "/desk/circuits/12/?all=1")


def test_a_device_has_its_place_and_its_neighbours(client: Client) -> None:
    said = page(client, "/desk/devices/C-208/")
    assert '<a href="/desk/map/#device-C-208">on the map</a>' in said
    assert '<a href="/desk/circuits/12/#device-C-208">on its drawing</a>' in said
    toward_the_main, toward_the_section = neighbours(snapshot.compiled(), "C-208")
    assert toward_the_main == ("P-208", ["J-207"])
    assert toward_the_section[0] == "P-208b"
    assert toward_the_section[1][:3] == ["F-210", "F-212", "F-213"]
    assert "at P-207, Quarry Lane: A, B, C closed." in words(said)


def words(said: str) -> str:
    return said.replace('<span class="keep">', "").replace("</span>", "")


def test_a_question_about_a_device_is_answered_in_words_and_recorded_nowhere(client: Client) -> None:
    report("C-208", "ABC", "open", "07:25")
    before = PositionReport.objects.count()
    said = words(page(client, "/desk/devices/C-221/?operation=open&phases=A"))
    assert "If A of C-221 were opened" in said
    assert "may be energized from phases B, C through bank T-218: voltage not known" in said
    assert "Nothing was ordered or recorded by asking." in said
    assert PositionReport.objects.count() == before
    said = words(page(client, "/desk/devices/C-221/?operation=close&phases=A&phases=B&phases=C"))
    assert "Phases A, B, C of C-221 stand closed already: nothing would change." in said


def test_a_question_of_closing_names_the_tags(client: Client, settings: Settings) -> None:
    settings.NETWORK_TAGS_ON = "tests.circuits.test_views.its_tag"
    refusal = "Device tag 42-1 on it: it can't be ordered closed."
    assert refusal in page(client, "/desk/devices/C-208/?operation=close&phases=A")
    assert refusal not in page(client, "/desk/devices/C-208/?operation=open&phases=A")


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("operation=open", "Tick at least one phase that the question is about."),
        ("operation=open&phases=Z", "Tick at least one phase that the question is about."),
        ("operation=<b>&phases=A", "&lt;b&gt; is no operation: write open or close."),
    ],
)
def test_a_question_that_can_not_be_answered(client: Client, query: str, sentence: str) -> None:
    assert sentence in words(page(client, f"/desk/devices/C-221/?{query}"))


def test_what_is_found_has_its_place_its_state_and_its_ways(client: Client) -> None:
    report("C-208", "ABC", "open", "07:25")
    said = page(client, "/desk/find/?q=c208")
    assert 'href="/desk/devices/C-208/"' in said
    assert 'Quarry Lane: <span class="keep">A, B, C</span> open · feeder 12' in said
    assert 'href="/desk/circuits/12/#device-C-208"' in said
    assert 'href="/desk/map/#device-C-208"' in said
    assert 'href="/desk/circuits/12/#pole-P-217"' in page(client, "/desk/find/?q=P-217")


def test_nothing_found_is_a_sentence_that_repeats_the_query(client: Client) -> None:
    said = page(client, "/desk/find/?q=<C-999>")
    assert "Nothing on the network in use has “&lt;C-999&gt;” in its number, label, street or name." in said
    assert "What is written on a pole or a device" in page(client, "/desk/find/")


def test_a_device_that_left_the_network_is_found_too(client: Client) -> None:
    revision = NetworkRevision.objects.create(imported_at="2026-05-14T12:00Z", digest="by hand")
    Device.objects.filter(pk="D-212").update(retired_in=revision)
    said = page(client, "/desk/find/?q=d-212")
    assert "an import has taken it out" in said
    assert "Nothing on the network" not in said


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


@pytest.mark.parametrize(
    ("path", "queries"),
    [
        ("/desk/circuits/12/", 10),
        ("/desk/devices/C-208/", 12),
        ("/desk/devices/C-208/?operation=open&phases=A", 17),
        ("/desk/find/?q=208", 10),
        ("/desk/map/", 9),
    ],
)
def test_a_page_asks_little(
    client: Client, path: str, queries: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    page(client, path)
    with django_assert_max_num_queries(queries):
        page(client, path)
