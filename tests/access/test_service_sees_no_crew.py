"""Practice: customer service must never see crew names, their telephones or tags. Every page and API route
that is theirs, at every stage of a job, followed by its links and posted to."""

import html
import json
import re
from collections.abc import Iterator
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from clearances.models import AffectedPremises, Clearance, Person, Role
from tests.access.conftest import Browser
from tests.access.test_permissions import ROWS
from tests.cast import Cast

LINK = re.compile(r'(?:href|action|hx-get|hx-post)="(/[^"]*)"')


def forbidden(clearance: Clearance) -> list[str]:
    """What must be in no answer. Family names, since a first name alone may be a customer's."""
    crews = Person.objects.filter(roles__overlap=[Role.FOREMAN, Role.CREW])
    names = [part for person in crews for part in (person.last_name, person.phone) if part]
    signed = [row.name.split()[-1] for row in clearance.sign_ons.all()]
    tags = [point.tag_number for point in clearance.points.all()]
    return [*names, *signed, *tags]


def pages(client: Client, clearance: Clearance) -> Iterator[tuple[str, str]]:
    """Every page that can be reached by links from those in the table, and every API answer."""
    premises = list(
        AffectedPremises.objects.filter(clearance=clearance)
        .order_by("pk")
        .values_list("premises_id", flat=True)
    )
    fill = {"customers": premises[0] if premises else "", "notices": "1"}
    todo = ["/service/?q=street", "/service/?q=elm", "/service/?q=nobody+here"]
    todo += [f"/service/?premises={one}" for one in premises[:8]]
    todo += [f"/do/remark/?clearance={clearance.pk}&about=x"]
    for row in ROWS:
        if row.cells["service"] == "yes" and row.method == "GET" and row.route != "/live/":
            part = row.route.split("/")[3] if row.route.startswith("/api/") else ""
            path = re.sub(r"<\w+:\w+>", lambda _, part=part: fill[part], row.route)  # type: ignore[misc]
            if row.route.startswith("/do/record_answer"):
                path += f"?clearance={clearance.pk}&premises={fill['customers']}"
            todo.append(path)
    seen: set[str] = set()
    while todo:
        path = todo.pop()
        if path in seen or len(seen) > 150 or path.startswith(("/static/", "/sign-out")):
            continue
        seen.add(path)
        answer = client.get(path, follow=True)
        text = answer.content.decode()
        todo += [html.unescape(link) for link in LINK.findall(text)]
        yield path, text


@pytest.mark.parametrize("stage", ["asked", "told", "isolated", "working", "released", "restored"])
def test_no_answer_names_a_crew_or_a_tag(cast: Cast, browser: Browser, stage: str) -> None:
    clearance = cast.job(stage)
    words = forbidden(clearance)
    assert len(words) >= 8
    client = browser(cast.mira)
    asked = 0
    for path, text in pages(client, clearance):
        found = [word for word in words if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text)]
        assert not found, f"{path} says {found}"
        asked += 1
    assert asked > 25


def test_what_is_answered_to_an_act_names_nobody_either(cast: Cast, browser: Browser) -> None:
    clearance = cast.job("working")
    words = forbidden(clearance)
    client = browser(cast.mira)
    body = {"words": "a limb on the line", "done_at": timezone.localtime().strftime("%H:%M")}
    premises = clearance.affected.order_by("pk")[0].premises_id
    person = {"answered_by": "a son", "plan": "has a battery"}
    api = {"words": "heard it hum", "done_at": timezone.now().isoformat(), "clearance": clearance.pk}
    answers = [
        client.post(f"/do/remark/?clearance={clearance.pk}", {"key": uuid4(), **body}, follow=True),
        client.post(f"/do/remark/?clearance={clearance.pk}", {"key": "no key"}, follow=True),
        client.post(
            f"/do/record_answer/?clearance={clearance.pk}&premises={premises}",
            {"key": uuid4(), **person},
            follow=True,
        ),
        client.post("/do/release_clearance/", {"clearance": clearance.pk}),
        client.post(
            "/api/v1/do/remark/", json.dumps({"key": str(uuid4()), **api}), content_type="application/json"
        ),
    ]
    assert [answer.status_code for answer in answers] == [200, 422, 200, 403, 201]
    for answer in answers:
        text = answer.content.decode()
        assert not [word for word in words if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text)]
