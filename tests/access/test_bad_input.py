"""Whatever is sent, the answer is a sentence, nothing has changed, and what was typed comes back."""

import datetime
import html
import json
from typing import Any, cast
from uuid import uuid4

import pytest
from django import forms
from django.db import connection, transaction
from django.test import Client, RequestFactory
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clearances.acts import ACTS
from clearances.acts.fields import ClockField, MomentField
from clearances.models import LogEntry
from clearances.services import VERBS
from tests.access.stage import Stage, body_of, signed_in
from tests.access.test_permissions import ROWS, ask

pytestmark = pytest.mark.usefixtures("db")

# Written by signing in and by asking, not by acting.
UNMINDED = {"django_session", "clearances_person", "clearances_failedsignin", "django_migrations"}
# Of each act somebody who may do it, the foreman before the desk.
DOER = {
    name: next(
        who
        for who, role in (
            ("ana", "foreman"),
            ("dana", "operator"),
            ("jon", "engineer"),
            ("ruth", "administrator"),
        )
        if role in verb.roles
    )
    for name, verb in VERBS.items()
}
# What the address of an act must name, so that it is found.
NAMES = {"record_answer": ("clearance", "premises"), "agree_on_source": ("clearance", "source"),
         "answer_irregular": ("entry",)}  # fmt: skip
NAMES |= dict.fromkeys(
    ("give_step", "call_step_back", "leave_step_out", "move_step", "report_step", "call_roll"), ("step",)
)
NAMES["answer_roll_call"] = ("call",)
NAMES["answer_broken_proof"] = ("broken_proof",)
OF_ONE = ("hold", "do_not_operate", "field_clearance")  # an act on one of these is named after it
NAMES |= {name: (one,) for name in ACTS for one in OF_ONE if name.endswith(f"_{one}")}
ABOUT_NOTHING = (
    "ask_for_clearance", "report_position", "save_person", "ask_for_hold", "give_do_not_operate",
    "start_field_clearance", "open_now", "report_blown", "report_patrol", "report_half_bright", "take_call",
)  # fmt: skip
NAMES |= dict.fromkeys(ABOUT_NOTHING, ())
NAMES |= dict.fromkeys(("report_wrong_device", "report_stuck"), ("step",))
NAMES |= dict.fromkeys(("say_cause", "send_crew", "promise_power_back"), ("trouble",))
NAMES |= dict.fromkeys(
    ("confirm_change", "mark_not_done", "settle_change", "survey_change", "withdraw_change"), ("change_set",)
)
NASTY = [
    "", " ", "\x00", "pole\x00", "\x07bell", "\u202e802-C", "\ud7ff\uffff", "x" * 2000, "7" * 400, "-1", "0",
    "99999999999999999999", "1e400", "NaN", "²", "٣", "true", "null", "[]", "{}", "'; DROP TABLE x; --", "%s",
    "<script>alert(1)</script>", "{{ 1 }}", "../../etc/passwd", "C-999", "P-0", "Q", "ABCD", "25:61", "24:00",
    "2026-02-30", "0001-01-01", "9999-12-31", "10000-01-01", "00:00+99:00", "💥" * 300, "\r\nX-Header: 1",
    "00000000-0000-0000-0000-000000000000",
]  # fmt: skip


def state() -> dict[str, str]:
    """A digest of every table of the board."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1")
        tables = [name for (name,) in cursor.fetchall() if name not in UNMINDED]
        sums = ", ".join(
            f"(SELECT md5(string_agg(t::text, '' ORDER BY t::text)) FROM {table} t)" for table in tables
        )
        cursor.execute(f"SELECT {sums}")
        return dict(zip(tables, cursor.fetchone() or (), strict=True))


def address(name: str, stage: Stage, **other: str) -> str:
    names = NAMES.get(name, ("clearance",))
    about = {one: str(stage.about[one]) for one in names} | other
    return f"/do/{name}/?" + "&".join(f"{key}={value}" for key, value in about.items())


def filled_in(name: str, stage: Stage) -> dict[str, Any]:
    """A form as a person would send it, as good as it can be known without the rules."""
    request = RequestFactory().get(address(name, stage))
    request.user = cast(Any, stage.people[DOER[name]][0])
    act = ACTS[name](request)
    sent: dict[str, Any] = {}
    now = timezone.localtime()
    for field, kind in act.form(act=act, initial=act.initial()).fields.items():
        if field == "password":
            sent[field] = f"{DOER[name]}-orrin-vale"
        elif isinstance(kind, MomentField):
            later = now + datetime.timedelta(hours={"window_start": 1, "promised_end": 2}.get(field, 3))
            sent |= {f"{field}_0": f"{later:%Y-%m-%d}", f"{field}_1": f"{later:%H:%M}"}
        elif isinstance(kind, ClockField):
            sent[field] = f"{now:%H:%M}"
        elif isinstance(kind, forms.UUIDField):
            sent[field] = str(uuid4())
        elif field == "new_password":
            sent[field] = "words of a new person"
        elif isinstance(kind, forms.DateField):
            sent[field] = f"{now:%Y-%m-%d}"
        elif isinstance(kind, forms.BooleanField):
            sent[field] = "on"
        elif isinstance(kind, forms.ModelChoiceField):
            sent[field] = "" if not kind.required else str(cast(Any, kind.queryset).first().pk)
        elif isinstance(kind, forms.MultipleChoiceField):
            sent[field] = [choice for choice, _ in cast(Any, kind.choices)][:1]
        elif isinstance(kind, forms.ChoiceField):
            sent[field] = cast(Any, kind.choices)[0][0]
        elif isinstance(kind, forms.IntegerField):
            sent[field] = stage.about["version"] if field == "version" else 20
        else:
            sent[field] = stage.about.get(field, "words that a person typed")
    return sent


def test_the_forms_as_filled_in_reach_the_rules(stage: Stage) -> None:
    """Else the tests below would try nothing but the forms' own checks."""
    reached = 0
    for name in ACTS:
        with transaction.atomic():
            answer = signed_in(stage, DOER[name]).post(address(name, stage), filled_in(name, stage))
            said = answer.content.decode()
            reached += answer.status_code == 303 or 'class="refusal"' in said or 'class="stale' in said
            transaction.set_rollback(True)
        assert answer.status_code in (303, 422), name
    assert reached > len(ACTS) - 5


@pytest.mark.parametrize("name", sorted(ACTS))
class TestEveryAct:
    def test_about_nothing_that_is_there(self, stage: Stage, name: str) -> None:
        before = state()
        for parameter in sorted({one for named in NAMES.values() for one in named} | {"clearance"}):
            if parameter not in NAMES.get(name, ("clearance",)):
                continue
            for wrong in ("999999", "99999999999999999999999", "abc", "-1", "²", "1.5", "x" * 500):
                path = address(name, stage, **{parameter: wrong})
                for answer in (
                    signed_in(stage, DOER[name]).get(path),
                    signed_in(stage, DOER[name]).post(path, {"key": str(uuid4())}),
                ):
                    assert answer.status_code == 404, path
                    said = html.unescape(answer.content.decode())
                    assert "There is no" in said or "is not among the customers" in said, path
        assert state() == before

    def test_with_nothing_filled_in(self, stage: Stage, name: str) -> None:
        before = state()
        answer = signed_in(stage, DOER[name]).post(address(name, stage), {"key": ""})
        assert answer.status_code == 422
        assert state() == before

    def test_what_was_typed_comes_back(self, stage: Stage, name: str) -> None:
        """A key that is none fails every form, whatever else is right."""
        sent = filled_in(name, stage) | {"key": "no key"}
        typed = [value for value in sent.values() if value == "words that a person typed"]
        before = state()
        answer = signed_in(stage, DOER[name]).post(address(name, stage), sent)
        assert answer.status_code == 422
        assert answer.content.decode().count("words that a person typed") >= len(typed)
        assert "orrin-vale" not in answer.content.decode(), "a password is never sent back"
        assert state() == before

    def test_after_the_session_has_ended(self, stage: Stage, name: str) -> None:
        before = state()
        path = address(name, stage)
        answer = Client().post(path, filled_in(name, stage))
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith(f"/sign-in?next=/do/{name}/")
        assert state() == before

    def test_without_the_csrf_token(self, stage: Stage, name: str) -> None:
        before = state()
        client = signed_in(stage, DOER[name])
        client.handler.enforce_csrf_checks = True
        answer = client.post(address(name, stage), filled_in(name, stage))
        assert answer.status_code == 403
        assert b"Nothing was changed" in answer.content
        assert state() == before

    def test_with_another_password(self, stage: Stage, name: str) -> None:
        if not VERBS[name].again:
            assert "password" not in filled_in(name, stage)
            return
        before = state()
        sent = filled_in(name, stage) | {"password": "ana-orrin-dale"}
        answer = signed_in(stage, DOER[name]).post(address(name, stage), sent)
        assert answer.status_code == 422
        assert b"That is not your password" in answer.content
        assert state() == before

    def test_on_a_page_that_is_old(self, stage: Stage, name: str) -> None:
        """Either a rule stands against it anyway, or it is said who was quicker."""
        if not ACTS[name].versioned:
            assert "version" not in filled_in(name, stage)
            return
        before = state()
        sent = filled_in(name, stage) | {"version": stage.about["version"] - 1}
        answer = signed_in(stage, DOER[name]).post(address(name, stage), sent)
        assert answer.status_code == 422
        assert state() == before


@pytest.mark.parametrize("name", ["remark", "sign_on", "ground_on", "report_test", "report_position"])
def test_sent_twice_counts_once(stage: Stage, name: str) -> None:
    sent = filled_in(name, stage)
    client = signed_in(stage, DOER[name])
    answers = [client.post(address(name, stage), sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert LogEntry.objects.filter(key=sent["key"]).count() == 1


def test_old_page_is_told_what_happened_last(stage: Stage) -> None:
    client = signed_in(stage, "ana")
    sent = filled_in("release_clearance", stage)
    for one in stage.clearance.ground_sets.filter(off_at=None):
        client.post(address("ground_off", stage), filled_in("ground_off", stage) | {"label": one.label})
    for person in stage.clearance.sign_ons.filter(off_at=None):
        client.post(address("sign_off", stage), filled_in("sign_off", stage) | {"name": person.name})
    answer = client.post(address("release_clearance", stage), sent)
    assert answer.status_code == 422
    said = html.unescape(answer.content.decode())
    assert f"Clearance {stage.clearance.pk} has changed since this page was read." in said
    assert "signs off" in said


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row.method == "GET" and row.route != "/live/"], ids=str
)
def test_looking_changes_nothing(stage: Stage, row: Any) -> None:
    before = state()
    for name in ("ines", "ana", "mira"):
        assert ask(row, name, stage, "GET").status_code < 500
    assert state() == before


@pytest.mark.parametrize(
    "path",
    ["/service/?q=%00", "/service/?premises=%00", "/do/remark/?about=%00", "/desk/devices/%00/", "/?%00"],
)
def test_a_nul_in_an_address_is_answered_with_a_sentence(stage: Stage, path: str) -> None:
    answer = signed_in(stage, "ines").get(path)
    assert answer.status_code == 400
    assert answer.content.decode().startswith("This address holds a character that can not be read")


def test_a_nul_in_a_cookie_too(stage: Stage) -> None:
    client = Client(raise_request_exception=False)
    client.cookies["sessionid"] = "\x00abcdefgh"
    assert client.get("/desk/").status_code == 400


@pytest.mark.parametrize("wrong", NASTY)
def test_searching_for_anything_finds_or_does_not(stage: Stage, wrong: str) -> None:
    client = signed_in(stage, "mira")
    for path, query in (
        ("/service/", {"q": wrong}),
        ("/service/", {"premises": wrong}),
        ("/api/v1/customers/", {"q": wrong}),
        ("/api/v1/notices/", {"page": wrong}),
    ):
        assert client.get(path, query).status_code in (200, 400, 404), (path, wrong)


@pytest.mark.parametrize("wrong", NASTY)
def test_words_beside_a_notice(stage: Stage, wrong: str) -> None:
    client, number = signed_in(stage, "dana"), stage.address["notice_id"][""]
    for path, sent in (
        (f"/desk/notices/{number}/", {"decision": wrong}),
        (f"/desk/notices/{number}/", {"decision": "attend", "how": wrong}),
        ("/desk/notices/99999999999999999999/", {"decision": "attend", "how": wrong}),
        ("/desk/notices/told/", {"notice": wrong, "how": wrong}),
    ):
        assert client.post(path, sent).status_code in (302, 404, 409, 422), (path, wrong)


@pytest.mark.parametrize("wrong", NASTY)
def test_signing_in_with_anything(db: None, wrong: str) -> None:
    answer = Client(raise_request_exception=False).post("/sign-in", {"username": wrong, "password": wrong})
    assert answer.status_code == 200
    got = Client(raise_request_exception=False).post(
        "/api/v1/token/",
        json.dumps({"username": wrong, "password": wrong}),
        content_type="application/json",
    )
    assert got.status_code == 400


def post_and_undo(client: Client, path: str, **sent: Any) -> tuple[Any, bool]:
    """The answer, and whether something changed; which is undone."""
    before = state()
    with transaction.atomic():
        answer = client.post(path, **sent)
        changed = state() != before
        transaction.set_rollback(True)
    return answer, changed


nasty = st.sampled_from(NASTY) | st.text(max_size=40).filter(lambda text: "\r" not in text)
fuzz = settings(
    max_examples=settings().max_examples // 4,  # each is a whole request
    deadline=None,
    suppress_health_check=list(HealthCheck),
    database=None,
)


@fuzz
@given(name=st.sampled_from(sorted(ACTS)), wrong=st.lists(nasty, min_size=1, max_size=3), data=st.data())
def test_no_form_breaks_the_board(stage: Stage, name: str, wrong: list[str], data: st.DataObject) -> None:
    sent = filled_in(name, stage)
    fields = data.draw(st.lists(st.sampled_from(sorted(sent)), min_size=len(wrong), max_size=len(wrong)))
    sent |= dict(zip(fields, wrong, strict=True))
    answer, changed = post_and_undo(signed_in(stage, DOER[name]), address(name, stage), data=sent)
    assert answer.status_code in (303, 422)
    assert changed == (answer.status_code == 303)


@fuzz
@given(name=st.sampled_from(sorted(VERBS)), data=st.data())
def test_no_body_breaks_the_api(stage: Stage, name: str, data: st.DataObject) -> None:
    path = f"/api/v1/do/{name}/"
    body = body_of(path, stage.people[DOER[name]][0], stage)
    value = (
        nasty | st.none() | st.booleans() | st.integers() | st.lists(nasty, max_size=3) | st.just("\ud800")
    )
    for field in data.draw(st.lists(st.sampled_from(sorted(body)), min_size=1, max_size=3)):
        body[field] = data.draw(value)
    answer, changed = post_and_undo(
        signed_in(stage, DOER[name]), path, data=json.dumps(body), content_type="application/json"
    )
    assert answer.status_code in (200, 201, 400, 403, 404, 409, 422)
    assert changed == (answer.status_code == 201)
    assert json.loads(answer.content)


@pytest.mark.parametrize(
    "body", ["", "[", "[]", '"words"', "1", "[" * 100_000, '{"key": ' + "9" * 5000 + "}", "\xff\x00"]
)
def test_what_is_no_body_at_all(stage: Stage, body: str) -> None:
    client = signed_in(stage, "sal")
    answer = client.post("/api/v1/do/remark/", body.encode("latin-1"), content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()
