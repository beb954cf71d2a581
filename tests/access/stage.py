"""One job under way with all its people, made once for each file of tests, and its addresses."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any
from unittest import mock
from uuid import uuid4

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoDbBlocker
from rest_framework import serializers

from circuits.models import Circuit, HandedIn, Source
from clearances.acts import ACTS
from clearances.api.verbs import serializer_of
from clearances.models import BrokenProof, Clearance, Person, Role, RollCall, Step, Trouble
from clearances.services import VERBS, changes
from notifications import outbox
from notifications.models import Notice
from tests.cast import Cast, done
from tests.clearances.beside import a_do_not_operate, a_field_clearance, a_hold
from tests.stages import load


@dataclass(frozen=True)
class Stage:
    """One job under way that ana holds and sal is signed on under, and somebody of every role, on it or
    not."""

    clearance: Clearance
    people: dict[str, tuple[Person | None, bool]]  # who, and whether the clearance is theirs
    cookies: dict[str, SimpleCookie]  # of everybody's session
    address: dict[str, dict[str, str]]  # what stands for the parts of a route
    about: dict[str, Any]  # the arguments of acts


@pytest.fixture(scope="module")
def stage(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Stage]:
    with django_db_blocker.unblock(), transaction.atomic(), mock.patch("notifications.wakeup.hint"):
        load()
        cast = Cast.present()
        clearance = cast.job("working")
        step = cast.steps(clearance, Step.Half.RESTORE)[0]
        trouble = Trouble.objects.create(device_id="C-280", began_at=timezone.now()).pk
        entry = clearance.entries.order_by("-number")[0].number
        premises = clearance.affected.order_by("pk")[0].premises_id
        link = {"device": "C-233", "link": "25K"}
        who = cast.who(cast.dana)
        done(changes.plan_change(who, clearance=clearance.pk, change="change_link", given=link))
        change_set = clearance.change_sets.get().pk
        clearance.refresh_from_db()
        source = Source.objects.exclude(kind="station").order_by("pk")[0].pk
        outbox.enqueue(
            fact="test:1", channel="email", recipient="r@elm.example", about=premises, subject="s", body="b"
        )
        call = RollCall.objects.create(
            step=step,
            clearance=clearance,
            why="C-221 is to be closed",
            asked_at=timezone.now(),
            asked_by=cast.dana,
        ).pk
        broken = BrokenProof.objects.create(
            clearance=clearance,
            over=["C-221 B"],
            words="Phase B is fed.",
            revision=1,
            raised_at=timezone.now(),
        ).pk
        notice = Notice.objects.get(fact="test:1").pk
        hold = a_hold(cast, holder=cast.ana)
        kept_open = a_do_not_operate(cast)
        field = a_field_clearance(cast)
        package = HandedIn.objects.create(
            name="network.zip", content=b"", by=cast.jon, handed_in_at=timezone.now(), state="checked"
        )

        def extra(login: str, *roles: Role) -> Person:
            return Person.objects.create(username=login, first_name=login.title(), roles=list(roles))

        people: dict[str, tuple[Person | None, bool]] = {
            "dana": (cast.dana, False), "ines": (cast.ines, False), "ana": (cast.ana, True),
            "bo": (cast.bo, False), "tom": (cast.tom, False), "sal": (cast.sal, True),
            "mira": (cast.mira, False), "jon": (cast.jon, False), "ruth": (cast.ruth, False),
            "kim, who only checks": (extra("kim", Role.CHECKER), False),
            "pat, of another crew": (extra("pat", Role.CREW), False),
            "guy, without a role": (extra("guy"), False),
            "nobody": (None, False),
        }  # fmt: skip
        cookies = {}
        for name, (person, _) in people.items():
            client = Client()
            if person:
                client.force_login(person)
            cookies[name] = client.cookies
        number = str(clearance.pk)
        yield Stage(
            clearance=clearance,
            people=people,
            cookies=cookies,
            address={
                "number": {"": number},
                "name": {"": "order"},
                "circuit_id": {"": Circuit.objects.order_by("pk")[0].pk},
                "device_id": {"": "C-208"},
                "notice_id": {"": str(notice)},
                "package_id": {"": str(package.pk)},
                "hold": {"": str(hold.pk)},
                "pk": {
                    "clearances": number, "customers": premises, "devices": "C-208", "notices": str(notice),
                },
            },
            about={
                "clearance": clearance.pk, "step": step.pk, "entry": entry, "premises": premises,
                "call": call, "source": source, "version": clearance.version, "device": "C-208",
                "devices": ["C-208"],
                "phases": "A", "position": "open", "result": "none", "roles": ["crew"], "person": "kim",
                "name": "Sal Moreno", "label": "G3", "hold": hold.pk, "do_not_operate": kept_open.pk,
                "field_clearance": field.pk, "said": "yes", "met_by": "sal", "second": "Sal Moreno",
                "trouble": trouble, "change_set": change_set, "change": "change_link", "given": link,
                "broken_proof": broken,
            },
        )  # fmt: skip
        transaction.set_rollback(True)


def path_of(route: str, stage: Stage) -> str:
    def part(match: re.Match[str]) -> str:
        values = stage.address[match[1]]
        return values.get("") or values[route.split("/")[3]]

    path = re.sub(r"<\w+:(\w+)>", part, route)
    if route.startswith("/do/"):
        names = (
            "clearance", "step", "entry", "premises", "source", "call", "hold", "do_not_operate",
            "field_clearance", "trouble", "change_set", "broken_proof",
        )  # fmt: skip
        return f"{path}?" + "&".join(f"{name}={stage.about[name]}" for name in names)
    return f"{path}?q=elm" if route.endswith("/customers/") else path


def body_of(route: str, person: Person | None, stage: Stage) -> dict[str, Any]:
    """What an API verb takes, all in order as far as one can be without a rule: the refusal asked for here is
    the person's, not the field's."""
    if route.startswith("/api/v1/notices/"):
        return {"decision": "attend", "how": "rang them"}
    if not route.startswith("/api/v1/do/"):
        return {}
    verb = VERBS[route.split("/")[4]]
    body: dict[str, Any] = {}
    for name, field in serializer_of(verb)().fields.items():
        if name in stage.about:
            body[name] = stage.about[name]
        elif isinstance(field, serializers.DateTimeField):
            body[name] = timezone.now().isoformat()
        elif isinstance(field, serializers.BooleanField):
            body[name] = True
        elif isinstance(field, serializers.IntegerField):
            body[name] = 20
        elif isinstance(field, serializers.CharField):
            body[name] = "words"
    body |= {"key": str(uuid4()), "how": "board"}
    if verb.again and person:
        body["password"] = f"{person.username}-orrin-vale"
    if ACTS[verb.name].holders_own and person and person.has_role(Role.OPERATOR):
        body |= {"speaking_for": "ana", "how": "radio"}
    return body


def signed_in(stage: Stage, name: str) -> Client:
    """A browser with somebody's session. Errors are answered, not raised."""
    client = Client(raise_request_exception=False)
    client.cookies = SimpleCookie(stage.cookies[name].output(header="", sep=";"))
    return client
