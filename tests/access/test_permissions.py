"""docs/permissions.md, row by row: every address of the board, asked by somebody of every role."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock
from uuid import uuid4

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.urls import URLPattern, URLResolver, get_resolver
from pytest_django import Settings

from clearances.acts import ACTS
from clearances.models import Role
from clearances.services import VERBS
from tests.access.stage import Stage, body_of, path_of, signed_in

TABLE = Path("docs/permissions.md")
ROLES = [*Role.values, "no role"]
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


@dataclass(frozen=True)
class Row:
    route: str
    method: str
    cells: dict[str, str]

    def __str__(self) -> str:
        return f"{self.method} {self.route}"


def rows() -> list[Row]:
    out = []
    heads: list[str] = []
    for line in TABLE.read_text().splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("| Route"):
            heads = cells[2:]
        elif line.startswith("| `"):
            out.append(Row(cells[0].strip("`"), cells[1], dict(zip(heads, cells[2:], strict=True))))
    return out


ROWS = rows()


def routes(patterns: list[Any], before: str = "/") -> Iterator[str]:
    for one in patterns:
        route = before + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from routes(one.url_patterns, route)
        elif isinstance(one, URLPattern) and one.name == "act":
            yield from (route.replace("<str:name>", name) for name in ACTS)
        else:
            yield route


def test_every_address_has_its_row_and_every_row_its_address() -> None:
    assert {row.route for row in ROWS} == set(routes(get_resolver().url_patterns))
    assert len({str(row) for row in ROWS}) == len(ROWS)


def test_every_cell_is_one_of_three_words_for_every_role() -> None:
    for row in ROWS:
        assert list(row.cells) == [*ROLES, "not signed in"], row
        assert set(row.cells.values()) <= {"yes", "own", "no"}, row


def test_every_verb_is_an_act_and_the_table_says_the_same_of_page_and_api() -> None:
    assert set(ACTS) == set(VERBS)
    cells = {str(row): row.cells for row in ROWS}
    for name in VERBS:
        assert cells[f"GET /do/{name}/"] == cells[f"POST /do/{name}/"] == cells[f"POST /api/v1/do/{name}/"]


def ask(row: Row, name: str, stage: Stage, method: str) -> HttpResponse:
    client = signed_in(stage, name)
    sent: dict[str, Any] = {}
    if row.route.startswith("/api/") and method != "GET":
        body = body_of(row.route, stage.people[name][0], stage)
        sent = {"data": json.dumps(body), "content_type": "application/json"}
    elif method == "POST":
        sent = {"data": {"key": str(uuid4())}}
    with transaction.atomic():
        answer: HttpResponse = getattr(client, method.lower())(path_of(row.route, stage), **sent)
        transaction.set_rollback(True)
    return answer


def refused(answer: HttpResponse) -> bool:
    to_sign_in = answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in?next=")
    return to_sign_in or answer.status_code in (401, 403)


@pytest.fixture
def _demo(settings: Settings, tmp_path: Path) -> Iterator[None]:
    """With a demo's mail, and with a stream that leaves this test's connection alone."""
    settings.DEMO = tmp_path
    with mock.patch("config.live.connections"):
        yield


@pytest.mark.usefixtures("_demo", "db")
@pytest.mark.parametrize("row", ROWS, ids=str)
def test_row(row: Row, stage: Stage) -> None:
    wrong = []
    for name, (person, theirs) in stage.people.items():
        held = (person.roles or ["no role"]) if person else ["not signed in"]
        cells = {row.cells[role] for role in held}
        may = "yes" in cells or ("own" in cells and theirs)
        answer = ask(row, name, stage, row.method)
        if answer.status_code >= 500 or refused(answer) == may:
            wrong.append(f"{name}: {'may' if may else 'may not'}, answered {answer.status_code}")
        if not may and answer.status_code == 403:
            said = answer.content.decode()
            sentence = re.search(r"<p>([^<]+ [^<]+\.) Nothing was changed\.", said) or re.search(
                r'"(?:detail|text)":"[^"]+ [^"]+\."|administrator gives people their roles', said
            )
            if sentence is None:
                wrong.append(f"{name}: refused without a sentence: {said[:300]}")
    assert not wrong


@pytest.mark.usefixtures("_demo", "db")
@pytest.mark.parametrize("route", sorted({row.route for row in ROWS}))
def test_methods_that_are_not_in_the_table_do_nothing(route: str, stage: Stage) -> None:
    listed = {row.method for row in ROWS if row.route == route}
    row = next(row for row in ROWS if row.route == route)
    for method in set(METHODS) - listed:
        answer = ask(row, "ines", stage, method)
        assert answer.status_code == 405 or refused(answer), f"{method} {route}"


def test_the_mail_page_is_only_on_a_demo(stage: Stage, db: None, settings: Settings) -> None:
    settings.DEMO = None
    row = next(row for row in ROWS if row.route == "/mail/")
    assert ask(row, "dana", stage, "GET").status_code == 404


@pytest.mark.parametrize("decision", ["send_again", "mark_sent", "give_up"])
def test_customer_service_decides_nothing_about_a_notice(stage: Stage, db: None, decision: str) -> None:
    client = signed_in(stage, "mira")
    path = f"/api/v1/notices/{stage.address['notice_id']['']}/"
    answer = client.post(path, json.dumps({"decision": decision}), content_type="application/json")
    assert answer.status_code == 403
    assert "decided by a system operator" in answer.json()["detail"]
