"""The map's two answers: where the network lies, and how it stands."""

from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.http import HttpResponseBase
from django.test import Client
from pytest_django import DjangoAssertNumQueries, Settings

from circuits import geography, snapshot
from circuits.models import NetworkRevision, Structure
from circuits.oneline import Band
from circuits.upward import Marks
from tests.circuits.conftest import report

pytestmark = pytest.mark.usefixtures("demo_network")
LIE, STAND = "/desk/map/network/", "/desk/map/state/"


@pytest.fixture
def client(db: None, settings: Settings) -> Client:
    settings.NETWORK_MAY_LOOK = ""
    settings.NETWORK_MARKS = ""
    person = get_user_model().objects.create_user("dana")
    signed_in = Client()
    signed_in.force_login(person)
    return signed_in


def get(client: Client, path: str, known: str = "") -> HttpResponseBase:
    return client.get(path, headers={"If-None-Match": known} if known else {})


def read(client: Client, path: str) -> Any:
    return client.get(path).json()


def nobody(user: object) -> bool:
    return False


def held() -> Marks:
    limits = [("P-213", "ABC"), ("P-214", "ABC"), ("P-253", "B")]
    return Marks(tags={"C-208": ["42-1"]}, bands=[Band("42 · Lindqvist · 6 on", limits)])


@pytest.mark.parametrize("path", [LIE, STAND])
def test_only_for_those_who_may_look(client: Client, settings: Settings, path: str) -> None:
    assert Client().get(path).status_code == 302
    settings.NETWORK_MAY_LOOK = "tests.circuits.test_map.nobody"
    assert client.get(path).status_code == 403


def lines(lie: dict[str, Any]) -> list[list[int]]:
    return [lie["lines"][at : at + 6] for at in range(0, len(lie["lines"]), 6)]


def line_between(lie: dict[str, Any], one: str, other: str) -> list[int]:
    ends = {lie["ids"].index(one), lie["ids"].index(other)}
    (found,) = [line for line in lines(lie) if set(line[:2]) == ends]
    return found


def test_a_place_is_where_the_package_has_it(client: Client) -> None:
    lie = read(client, LIE)
    for structure in Structure.objects.filter(pk__in=lie["ids"]):
        at = 2 * lie["ids"].index(structure.pk)
        east, north = lie["places"][at : at + 2]
        assert (lie["corner"][0] + east) / 1e6 == pytest.approx(float(structure.longitude or 0), abs=1e-6)
        assert (lie["corner"][1] + north) / 1e6 == pytest.approx(float(structure.latitude or 0), abs=1e-6)
    assert lie["missing"] == {"lines": 0, "devices": 0}


def test_every_line_and_device_is_on_it_once_and_west_comes_first(client: Client) -> None:
    lie, network = read(client, LIE), snapshot.compiled().network
    spans = [
        line
        for line in network.lines
        if network.node[line.from_node].structure != network.node[line.to_node].structure
    ]
    assert len(lines(lie)) == len(spans)
    assert sorted(device[0] for device in lie["devices"]) == sorted(one.id for one in network.devices)
    for start, end, *_ in lines(lie):
        assert lie["places"][2 * start] <= lie["places"][2 * end]


def test_the_state_of_a_line_is_read_by_the_section_of_each_phase(client: Client) -> None:
    report("C-208", "ABC", "open", "08:34")
    report("C-221", "A", "open", "08:41")
    lie, stand = read(client, LIE), read(client, STAND)

    def said(one: str, other: str) -> list[str]:
        sections = line_between(lie, one, other)[3:]
        return [
            stand["answers"][int(stand["sections"][section])] if section >= 0 else "" for section in sections
        ]

    backfed = "possibly backfed, voltage not known"  # from B and C through the bank T-218
    assert said("P-213", "P-214") == [backfed, "energized", "energized"]
    assert said("P-204", "P-205") == ["energized"] * 3
    assert said("P-252", "P-253") == ["", "energized", ""]  # the lateral on Weir Close has phase B only
    assert stand["open"] == {"C-208": "ABC", "C-221": "A", "N-7": "ABC"}
    assert stand["moved"] == ["C-208", "C-221"]


def test_a_work_clearance_has_its_spans_and_the_places_without_one(
    client: Client, settings: Settings
) -> None:
    settings.NETWORK_MARKS = "tests.circuits.test_map.held"
    lie, stand = read(client, LIE), read(client, STAND)
    (band,) = stand["bands"]
    assert band["words"] == "42 · Lindqvist · 6 on"
    named = [{lie["ids"][place] for place in pair} for pair in band["pairs"]]
    assert named == [{"P-213", "P-214"}]
    assert [lie["ids"][place] for place in band["alone"]] == ["P-253"]
    assert stand["tags"] == {"C-208": ["42-1"]}


def test_what_has_no_coordinates_is_counted_and_said(client: Client) -> None:
    # By hand, and the network read again.
    Structure.objects.filter(pk="P-217").update(latitude=None)
    NetworkRevision.objects.create(imported_at="2026-05-14T12:00Z", digest="by hand")
    lie = read(client, LIE)
    assert lie["missing"] == {"lines": 2, "devices": 2}
    said = client.get("/desk/map/").content.decode()
    assert "Not on the map, because the package has no coordinates for them: 2 lines, 2 devices." in said


def test_a_map_that_has_it_is_told_so(client: Client) -> None:
    for path in (LIE, STAND):
        first = get(client, path)
        assert get(client, path, first.headers["ETag"]).status_code == 304
    assert get(client, LIE).headers["Cache-Control"] == "private, no-cache"
    # Names of crews and tags stay in no cache.
    assert get(client, STAND).headers["Cache-Control"] == "no-store"


def test_a_report_a_tag_and_an_import_are_news_and_where_it_lies_is_not(
    client: Client, settings: Settings
) -> None:
    lies, stands = get(client, LIE).headers["ETag"], [get(client, STAND).headers["ETag"]]
    report("C-208", "ABC", "open", "08:34")
    stands.append(get(client, STAND).headers["ETag"])
    # A word that comes late, of what was done before: nothing stands otherwise.
    report("C-208", "ABC", "open", "08:30")
    assert get(client, STAND, stands[-1]).status_code == 304
    settings.NETWORK_MARKS = "tests.circuits.test_map.held"
    stands.append(get(client, STAND).headers["ETag"])
    assert get(client, LIE, lies).status_code == 304
    NetworkRevision.objects.create(imported_at="2026-05-14T12:00Z", digest="by hand")
    stands.append(get(client, STAND).headers["ETag"])
    assert len(set(stands)) == 4
    assert get(client, LIE, lies).status_code == 200


def test_a_known_state_costs_no_trace(
    client: Client, monkeypatch: pytest.MonkeyPatch, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    known = get(client, STAND).headers["ETag"]

    def no_trace(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("circuits.map_views.trace", no_trace)
    with django_assert_max_num_queries(5):
        assert get(client, STAND, known).status_code == 304


def test_the_page_says_the_same_in_words(client: Client, settings: Settings) -> None:
    report("C-221", "A", "open", "08:41")
    report("C-208", "ABC", "open", "08:34")
    settings.NETWORK_MARKS = "tests.circuits.test_map.held"
    said = client.get("/desk/map/").content.decode()
    assert "energized; possibly backfed, voltage not known" in said
    assert "Out of normal position: 2" in said
    assert "42 · Lindqvist · 6 on" in said


@pytest.mark.usefixtures("client")
def test_the_answer_of_a_section_is_that_of_each_of_its_node_phases() -> None:
    from circuits.core.trace import trace

    compiled = snapshot.compiled()
    state = trace(compiled, {"C-208": "ABC", "C-221": "A", "N-7": "ABC"})
    answers = geography.answers_of(compiled, state)
    for (node, phase), section in zip(compiled.points, compiled.section, strict=True):
        assert answers[section] is state.answer(node, phase)
