"""A password may be guessed ten times, then not for a quarter of an hour."""

import json
from typing import Any

import pytest
from django.db.models import F
from django.test import Client

from clearances.models import FailedSignIn, LogEntry
from clearances.signing_in import TRIES, TRIES_OF_ADDRESS, WITHIN
from tests.access.conftest import Browser
from tests.cast import Cast


def sign_in(login: str, password: str = "", address: str = "192.0.2.7") -> bool:
    """Addresses are those of RFC 5737, for examples."""
    client = Client(REMOTE_ADDR=address)
    answer = client.post("/sign-in", {"username": login, "password": password or f"{login}-orrin-vale"})
    assert answer.status_code in (200, 302)
    if answer.status_code == 200:
        assert b"wait a quarter of an hour" in answer.content
    return bool(answer.status_code == 302)


def wrong(login: str, times: int, **where: str) -> None:
    for _ in range(times):
        assert not sign_in(login, "a guess", **where)


def test_ten_wrong_tries_shut_the_door_for_a_quarter_of_an_hour(cast: Cast) -> None:
    wrong("dana", TRIES - 1)
    assert sign_in("dana"), "the tenth try was right, and the count begins anew"
    wrong("dana", TRIES)
    assert not sign_in("dana")
    assert not sign_in("DANA"), "the same name in capitals is no other name"
    FailedSignIn.objects.update(at=F("at") - WITHIN)
    assert sign_in("dana")
    assert not FailedSignIn.objects.exists(), "what no longer counts is not kept"


def test_whoever_guesses_elsewhere_locks_nobody_out(cast: Cast) -> None:
    wrong("dana", TRIES, address="198.51.100.9")
    assert sign_in("dana")
    assert sign_in("ines", address="198.51.100.9")


def test_many_names_from_one_address(cast: Cast) -> None:
    FailedSignIn.objects.bulk_create(
        FailedSignIn(name=f"name {number}", address="198.51.100.9") for number in range(TRIES_OF_ADDRESS)
    )
    assert not sign_in("dana", address="198.51.100.9")
    assert sign_in("dana")


def test_tokens_and_the_pages_count_together(cast: Cast) -> None:
    def token(password: str) -> int:
        body = json.dumps({"username": "dana", "password": password})
        client = Client(REMOTE_ADDR="192.0.2.7")
        return client.post("/api/v1/token/", body, content_type="application/json").status_code

    wrong("dana", TRIES - 1)
    assert token("a guess") == 400
    assert token("dana-orrin-vale") == 400
    assert not sign_in("dana")


@pytest.mark.parametrize("by", ["page", "api"])
def test_being_asked_again_is_no_way_around(cast: Cast, browser: Browser, by: str) -> None:
    """Somebody at a screen that another left open guesses that person's password to give a clearance."""
    clearance = cast.job("isolated")
    client = browser(cast.dana)
    before = LogEntry.objects.count()

    def give(password: str) -> Any:
        key = "6f1c2f5e-8a53-4a3e-9a0e-0d8f3a1b2c3d"
        body = {"key": key, "version": clearance.version, "password": password}
        if by == "page":
            return client.post(f"/do/give_clearance/?clearance={clearance.pk}", body)
        return client.post(
            "/api/v1/do/give_clearance/",
            json.dumps(body | {"clearance": clearance.pk}),
            content_type="application/json",
        )

    for password in ["a guess"] * TRIES + ["dana-orrin-vale"]:
        answer = give(password)
        assert answer.status_code == (422 if by == "page" else 400)
        assert "That is not your password" in answer.content.decode()
    assert LogEntry.objects.count() == before
    FailedSignIn.objects.all().delete()
    assert give("dana-orrin-vale").status_code in (201, 303)
