"""The API: what it reads, how it is signed in to, and that its errors are sentences."""

import html
import json
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import yaml
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from clearances.models import LogEntry, Step
from clearances.pages import service
from clearances.services import VERBS
from notifications import outbox
from notifications.models import Notice
from notifications.states import State
from tests.access.conftest import Browser
from tests.cast import Cast

API = "/api/v1"


def post(client: Client, path: str, **body: Any) -> Any:
    return client.post(f"{API}/{path}", json.dumps(body), content_type="application/json")


def test_the_committed_schema_is_the_schema_of_now(tmp_path: Path) -> None:
    file = tmp_path / "openapi.yaml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(file))
    assert file.read_text() == Path("docs/openapi.yaml").read_text()


def test_every_verb_is_an_operation_with_its_own_name() -> None:
    schema = yaml.safe_load(Path("docs/openapi.yaml").read_text())
    assert {path.split("/")[-2] for path in schema["paths"] if "/do/" in path} == set(VERBS)


def test_examples_of_the_schema_are_bodies_that_the_board_understands(cast: Cast, browser: Browser) -> None:
    """An example that misses a field or has one too many would be answered with 400."""
    from clearances.api.examples import EXAMPLES

    for name, body in EXAMPLES.items():
        login = "dana" if "operator" in VERBS[name].roles else "ana"
        body = body | {"key": str(uuid4())}
        body |= {"speaking_for": "sal"} if "speaking_for" in body else {}
        body |= {"password": f"{login}-orrin-vale"} if "password" in body else {}
        answer = post(browser(getattr(cast, login)), f"do/{name}/", **body)
        assert answer.status_code in (201, 404, 409, 422), (name, answer.content)


class TestDevices:
    def test_a_phase_has_its_report_with_the_four_times(self, cast: Cast, browser: Browser) -> None:
        clearance = cast.job("told")
        first, step = cast.steps(clearance, Step.Half.ISOLATE)[:2]
        for one, phases in ((first, ""), (step, "A")):
            cast.give_step(clearance, one)
            cast.report_step(one, phases)
        device = browser(cast.sal).get(f"{API}/devices/{step.device_id}/").json()
        a, b = device["positions"][:2]
        assert (device["id"], device["open"]) == ("C-221", "A")
        assert (a["phase"], a["position"], b["phase"], b["position"]) == ("A", "open", "B", "closed")
        report = a["report"]
        assert (report["said_by"], report["made_inoperable"]) == ("Sal Moreno", "barrels out, secured")
        times = [report[name] for name in ("ordered_at", "done_at", "reported_at", "entered_at")]
        assert all(times)
        assert times == sorted(times)
        assert b["report"] is None

    def test_list_comes_in_pages(self, cast: Cast, browser: Browser) -> None:
        answer = browser(cast.jon).get(f"{API}/devices/").json()
        assert set(answer) == {"count", "next", "previous", "results"}
        tie = next(one for one in answer["results"] if one["id"] == "N-7")
        assert (tie["normal_position"], tie["open"]) == ("open", "ABC")

    def test_unknown_device_is_a_404_with_a_sentence(self, cast: Cast, browser: Browser) -> None:
        answer = browser(cast.dana).get(f"{API}/devices/C-999/")
        assert answer.status_code == 404
        assert answer.json() == {"detail": "There is no device C-999 on the network in use."}


class TestCustomers:
    def test_a_caller_is_found_and_gets_the_words_of_the_page(self, cast: Cast, browser: Browser) -> None:
        row = cast.job("working").affected.select_related("premises").order_by("pk")[0]
        client = browser(cast.mira)
        found = client.get(f"{API}/customers/", {"q": row.premises.address}).json()["results"]
        assert row.premises_id in [one["premises"] for one in found]
        answer = client.get(f"{API}/customers/{row.premises_id}/").json()
        page = html.unescape(client.get("/service/", {"premises": row.premises_id}).content.decode())
        assert answer["standing"] == "out"
        for said in (answer["headline"], answer["say"], answer["medical"], *answer["ask"]):
            assert said.split(",")[0] in page
        assert answer["facts"].keys() == {"Told", "Neighbours"}

    @pytest.mark.parametrize("query", ["", "   ", "x" * (service.LONGEST_QUERY + 1)])
    def test_nothing_or_a_novel_is_not_searched_for(self, cast: Cast, browser: Browser, query: str) -> None:
        answer = browser(cast.mira).get(f"{API}/customers/", {"q": query})
        assert answer.status_code == 400
        assert "part of an address" in answer.json()["q"][0]

    def test_unknown_premises(self, cast: Cast, browser: Browser) -> None:
        answer = browser(cast.mira).get(f"{API}/customers/none-such/")
        assert answer.status_code == 404
        assert answer.json() == {"detail": "There is no premises none-such."}


class TestNotices:
    @pytest.fixture
    def failed(self, cast: Cast) -> Notice:
        words = {"recipient": "r@quarrylane.example", "about": "1", "subject": "Power off", "body": "Off."}
        outbox.enqueue(fact="interruption:1:off", channel="email", **words)
        Notice.objects.filter(fact="interruption:1:off").update(
            state=State.SENDING, lease_until=timezone.now(), claimed_by="x"
        )
        Notice.objects.filter(fact="interruption:1:off").update(
            state=State.FAILED, reason="No such box.", lease_until=None
        )
        return Notice.objects.get(fact="interruption:1:off")

    def test_a_failed_notice_is_listed_and_sent_again_once(
        self, cast: Cast, browser: Browser, failed: Notice
    ) -> None:
        client = browser(cast.dana)
        assert [row["id"] for row in client.get(f"{API}/notices/").json()["results"]] == [failed.pk]
        first = post(client, f"notices/{failed.pk}/", decision="send_again")
        second = post(client, f"notices/{failed.pk}/", decision="send_again")
        assert (first.status_code, first.json()["state"]) == (200, "waiting")
        assert second.status_code == 409
        assert "Nothing was changed" in second.json()["stale"]

    def test_told_in_another_way_needs_the_words(self, cast: Cast, browser: Browser, failed: Notice) -> None:
        client = browser(cast.dana)
        assert post(client, f"notices/{failed.pk}/", decision="attend").status_code == 400
        told = post(client, f"notices/{failed.pk}/", decision="attend", how="rang her")
        assert "Dana Reyes: rang her" in told.json()["reason"]

    def test_unknown_notice_and_decision(self, cast: Cast, browser: Browser) -> None:
        client = browser(cast.dana)
        assert post(client, "notices/999999/", decision="give_up").json() == {
            "detail": "There is no notice 999999."
        }
        assert post(client, "notices/1/", decision="forget").status_code == 400


def test_flags_are_those_of_now(cast: Cast, browser: Browser) -> None:
    cast.asked()
    cast.asked(holder=cast.bo)
    found = browser(cast.dana).get(f"{API}/flags/").json()
    assert any("Ana Duarte" in flag["text"] and "Bo Lindqvist" in flag["text"] for flag in found)
    assert {flag["level"] for flag in found} <= {"now", "soon"}


class TestSigningIn:
    def test_a_token_is_got_used_and_given_back(self, cast: Cast) -> None:
        client = Client()
        got = post(client, "token/", username="dana", password="dana-orrin-vale")
        header = {"Authorization": f"Token {got.json()['token']}"}
        assert client.get(f"{API}/me/", headers=header).json()["username"] == "dana"
        assert client.delete(f"{API}/token/", headers=header).status_code == 204
        assert client.get(f"{API}/me/", headers=header).status_code == 401

    def test_nobody_is_told_to_sign_in(self, cast: Cast) -> None:
        answer = Client().get(f"{API}/me/")
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == "Token"

    def test_somebody_who_has_left_gets_nothing(self, cast: Cast) -> None:
        got = post(Client(), "token/", username="dana", password="dana-orrin-vale").json()["token"]
        cast.dana.is_active = False
        cast.dana.save()
        assert Client().get(f"{API}/me/", headers={"Authorization": f"Token {got}"}).status_code == 401
        assert post(Client(), "token/", username="dana", password="dana-orrin-vale").status_code == 400

    def test_a_session_needs_its_csrf_token_and_a_token_does_not(self, cast: Cast) -> None:
        body = {"key": str(uuid4()), "words": "a limb on the line", "done_at": timezone.now().isoformat()}
        client = Client(enforce_csrf_checks=True)
        client.force_login(cast.sal)
        before = LogEntry.objects.count()
        refused = post(client, "do/remark/", **body)
        assert (refused.status_code, LogEntry.objects.count()) == (403, before)
        assert "CSRF" in refused.json()["detail"]
        token = post(Client(), "token/", username="sal", password="sal-orrin-vale").json()["token"]
        done = Client(enforce_csrf_checks=True).post(
            f"{API}/do/remark/",
            json.dumps(body),
            content_type="application/json",
            headers={"Authorization": f"Token {token}"},
        )
        assert done.status_code == 201


class TestVerbs:
    @pytest.mark.parametrize(
        ("name", "about", "sentence"),
        [
            ("give_clearance", {"clearance": 999999, "version": 1}, "There is no clearance 999999."),
            ("call_step_back", {"step": 999999, "version": 1, "why": "mistake"}, "There is no step 999999."),
            ("answer_irregular", {"entry": 999999, "answer": "looked"}, "There is no entry 999999."),
        ],
    )  # fmt: skip
    def test_about_nothing_that_is_there(
        self, cast: Cast, browser: Browser, name: str, about: dict[str, Any], sentence: str
    ) -> None:
        again = {"password": "dana-orrin-vale"} if VERBS[name].again else {}
        answer = post(browser(cast.dana), f"do/{name}/", key=str(uuid4()), **about, **again)
        assert answer.status_code == 404
        assert answer.json()["refusals"][0]["text"] == sentence

    def test_premises_that_are_not_of_this_job(self, cast: Cast, browser: Browser) -> None:
        clearance = cast.job("told")
        words = {"premises": "none-such", "answered_by": "a son", "plan": "battery"}
        answer = post(
            browser(cast.mira), "do/record_answer/", key=str(uuid4()), clearance=clearance.pk, **words
        )
        assert answer.status_code == 422
        assert "none-such is not among the customers" in answer.json()["refusals"][0]["text"]

    def test_phases_that_the_device_has_not(self, cast: Cast, browser: Browser) -> None:
        clearance = cast.job("told")
        step = cast.steps(clearance, Step.Half.ISOLATE)[3]
        assert step.device.phases != "ABC"
        absent = next(phase for phase in "ABC" if phase not in step.device.phases)
        client, at = browser(cast.sal), timezone.now().isoformat()
        refused = post(client, "do/report_step/", key=str(uuid4()), step=step.pk, phases=absent, done_at=at)
        assert refused.status_code == 422
        assert refused.json()["refusals"][0]["code"] == "unknown_device"
        garbled = post(client, "do/report_step/", key=str(uuid4()), step=step.pk, phases="AQ", done_at=at)
        assert garbled.status_code == 400
        assert garbled.json().keys() == {"phases"}

    def test_stale_version_and_double_submit(self, cast: Cast, browser: Browser) -> None:
        clearance = cast.job("points chosen")
        client = browser(cast.dana)
        stale = post(
            client, "do/write_order/", key=str(uuid4()), clearance=clearance.pk, version=clearance.version - 1
        )
        assert stale.status_code == 409
        assert "has changed since this page was read" in stale.json()["stale"]
        body = {"key": str(uuid4()), "clearance": clearance.pk, "version": clearance.version}
        first, second = (post(client, "do/write_order/", **body) for _ in range(2))
        assert (first.status_code, second.status_code) == (201, 200)
        assert (first.json()["entry"], second.json()["repeated"]) == (second.json()["entry"], True)

    def test_a_key_of_another_act_is_not_an_answer_to_this_one(self, cast: Cast, browser: Browser) -> None:
        """Else a program that uses a key twice would read of an act that was never done: it is done."""
        clearance = cast.job("points chosen")
        key, client = str(uuid4()), browser(cast.dana)
        words = {"words": "a limb on the line", "done_at": timezone.now().isoformat()}
        assert post(client, "do/remark/", key=key, **words).status_code == 201
        body = {"key": key, "clearance": clearance.pk, "version": clearance.version}
        answer = post(client, "do/write_order/", **body)
        assert answer.status_code == 422
        assert "belongs to another act" in answer.json()["refusals"][0]["text"]
        assert post(browser(cast.sal), "do/remark/", key=key, **words).status_code == 422

    def test_only_the_holder_releases(self, cast: Cast, browser: Browser) -> None:
        """29 CFR 1910.269(m)(3)(xi), from memory."""
        clearance = cast.job("people and grounds off")
        body = {
            "clearance": clearance.pk,
            "version": clearance.version,
            "told_everyone": True,
            "all_off": True,
        }
        key = str(uuid4())
        answer = post(browser(cast.bo), "do/release_clearance/", key=key, password="bo-orrin-vale", **body)
        assert answer.status_code == 403
        assert answer.json()["refusals"][0]["code"] == "not_the_holder"
