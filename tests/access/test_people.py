"""The administrator's page: who signs in, with which roles, and what is never taken from the last of them."""

import datetime
import io
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from rest_framework.authtoken.models import Token

from clearances.models import LogEntry, Person, Role
from clearances.services import people
from clearances.services.verb import Done, Outcome, Refused
from tests.access.conftest import Browser
from tests.cast import Cast, done


def save(cast: Cast, person: str, **changes: Any) -> Outcome:
    """All that is known of a person, with changes; of a new one, that they are Kim Ode."""
    row = Person.objects.filter(username=person).first()
    names = ("first_name", "last_name", "roles", "employer", "phone", "radio", "may_hold_until")
    known = {name: getattr(row, name) for name in names} if row else {
        "first_name": "Kim", "last_name": "Ode", "roles": ["crew"], "new_password": "a long enough one"
    }  # fmt: skip
    return people.save_person(cast.who(cast.ruth), person=person, **(known | changes))


def code(outcome: Outcome) -> str:
    assert isinstance(outcome, Refused), outcome
    assert len(outcome.refusals) == 1
    return outcome.refusals[0].code


def test_a_person_is_entered_on_the_page_and_signs_in(cast: Cast, browser: Browser) -> None:
    client = browser(cast.ruth)
    page = client.get("/desk/people/").content.decode()
    assert "/do/save_person/?back=" in page
    sent = {
        "key": uuid4(), "login": "kim", "first_name": "Kim", "last_name": "Ode", "roles": ["foreman", "crew"],
        "may_hold_until": "2030-06-30", "active": "on", "new_password": "a long enough one",
        "password": "ruth-orrin-vale",
    }  # fmt: skip
    answer = client.post("/do/save_person/", sent)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/desk/people/")
    kim = Person.objects.get(username="kim")
    assert kim.may_hold_on(datetime.date(2030, 6, 30))
    assert not kim.may_hold_on(datetime.date(2030, 7, 1))
    assert Client().login(username="kim", password="a long enough one")
    said = LogEntry.objects.order_by("-number")[0]
    assert said.words == (
        "Ruth Halvorsen enters Kim Ode (kim): crew foreman, crew member; "
        "may hold clearances until 30 Jun 2030; counts as a contractor; new password."
    )
    assert "long enough" not in f"{said.words}{said.data}"
    assert "Kim Ode" in client.get("/desk/people/").content.decode()


def test_what_is_known_is_filled_in_and_the_log_in_name_stays(cast: Cast, browser: Browser) -> None:
    client = browser(cast.ruth)
    page = client.get("/do/save_person/?person=ana").content.decode()
    assert 'value="Duarte"' in page
    sent = {
        "key": uuid4(), "login": "other", "first_name": "Ana", "last_name": "Duarte", "roles": ["crew"],
        "active": "on", "password": "ruth-orrin-vale",
    }  # fmt: skip
    assert client.post("/do/save_person/?person=ana", sent).status_code == 303
    cast.ana.refresh_from_db()
    assert (cast.ana.username, cast.ana.roles, cast.ana.may_hold_until) == ("ana", ["crew"], None)
    assert cast.ana.check_password("ana-orrin-vale")
    assert not Person.objects.filter(username="other").exists()


def test_an_unknown_person_is_a_404(cast: Cast, browser: Browser) -> None:
    answer = browser(cast.ruth).get("/do/save_person/?person=nobody")
    assert answer.status_code == 404
    assert b"There is no person nobody." in answer.content


def test_a_log_in_name_is_given_once(cast: Cast, browser: Browser) -> None:
    sent = {"key": uuid4(), "login": "DANA", "first_name": "Dan", "last_name": "Roe", "active": "on"}
    sent |= {"new_password": "a long enough one", "password": "ruth-orrin-vale"}
    answer = browser(cast.ruth).post("/do/save_person/", sent)
    assert answer.status_code == 422
    assert b"Somebody signs in with this name already." in answer.content


class TestTheLastAdministrator:
    @pytest.mark.parametrize("change", [{"roles": ["operator"]}, {"active": False}])
    def test_stays(self, cast: Cast, change: dict[str, Any]) -> None:
        assert code(save(cast, "ruth", **change)) == "last_administrator"
        cast.ruth.refresh_from_db()
        assert cast.ruth.has_role(Role.ADMINISTRATOR)

    def test_may_go_when_there_is_another(self, cast: Cast) -> None:
        done(save(cast, "jon", roles=["engineer", "administrator"]))
        done(save(cast, "ruth", active=False))

    def test_one_who_has_left_is_not_another(self, cast: Cast) -> None:
        done(save(cast, "jon", roles=["administrator"], active=False))
        assert code(save(cast, "ruth", active=False)) == "last_administrator"


class TestAHolder:
    @pytest.mark.parametrize(
        "change", [{"active": False}, {"roles": ["crew"]}, {"last_name": "Oliveira"}], ids=str
    )
    def test_stays_who_they_are_while_a_clearance_is_out(self, cast: Cast, change: dict[str, Any]) -> None:
        """29 CFR 1910.269(m)(3)(xi), from memory: only the employee in charge releases."""
        cast.job("given")
        assert code(save(cast, "ana", **change)) == "still_holding"
        assert isinstance(save(cast, "ana", phone="555-0199"), Done)

    def test_may_change_when_it_is_released(self, cast: Cast) -> None:
        cast.job("released")
        done(save(cast, "ana", active=False))


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"first_name": " "}, "no_name"),
        ({"roles": ["wizard"]}, "not_fit"),
        ({"new_password": "short"}, "not_fit"),
        ({"new_password": ""}, "no_password"),
        ({"first_name": "sal", "last_name": "MORENO"}, "same_name"),
        ({"phone": "5" * 33}, "not_fit"),
    ],
    ids=str,
)
def test_words_that_do_not_fit(cast: Cast, change: dict[str, Any], wanted: str) -> None:
    assert code(save(cast, "kim", **change)) == wanted
    assert not Person.objects.filter(username="kim").exists()


def test_leaving_ends_sessions_and_tokens(cast: Cast, browser: Browser) -> None:
    client = browser(cast.sal)
    Token.objects.create(user=cast.sal)
    done(save(cast, "sal", active=False))
    assert client.get("/field/").status_code == 302
    assert not Token.objects.filter(user=cast.sal).exists()
    assert LogEntry.objects.order_by("-number")[0].words.endswith("crew member; no longer signs in.")


def test_a_new_password_ends_sessions(cast: Cast, browser: Browser) -> None:
    client = browser(cast.sal)
    done(save(cast, "sal", new_password="quite another one"))
    assert client.get("/field/").status_code == 302
    assert Client().login(username="sal", password="quite another one")


def test_a_qualification_that_has_run_out_asks_for_nothing(cast: Cast) -> None:
    done(save(cast, "ana", may_hold_until=timezone.localdate() - datetime.timedelta(days=1)))
    cast.ana.refresh_from_db()
    with pytest.raises(AssertionError, match="holder_not_qualified"):
        cast.asked(holder=cast.ana)


def test_a_qualification_that_runs_out_during_the_work_asks_for_nothing(cast: Cast) -> None:
    tomorrow = timezone.localdate() + datetime.timedelta(days=1)
    done(save(cast, "ana", may_hold_until=tomorrow))
    cast.ana.refresh_from_db()
    evening = timezone.make_aware(datetime.datetime.combine(tomorrow, datetime.time(20)))
    with pytest.raises(AssertionError, match="holder_not_qualified"):
        cast.asked(holder=cast.ana, start=evening)
    assert cast.asked(holder=cast.ana, start=evening - datetime.timedelta(hours=2)).pk


class TestTheFirst:
    def test_is_entered_by_a_command(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        Person.objects.filter(pk=cast.ruth.pk).update(is_active=False)
        monkeypatch.setattr("getpass.getpass", lambda _: "a long enough one")
        call_command("add_administrator", "ode", "Kim", "Ode", stdout=io.StringIO())
        assert Person.objects.get(username="ode").has_role(Role.ADMINISTRATOR)
        with pytest.raises(CommandError, match="has an administrator"):
            call_command("add_administrator", "two", "Ann", "Other")

    def test_not_with_a_weak_password(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        Person.objects.filter(pk=cast.ruth.pk).update(is_active=False)
        monkeypatch.setattr("getpass.getpass", lambda _: "short")
        with pytest.raises(CommandError, match="at least 12 characters"):
            call_command("add_administrator", "ode", "Kim", "Ode")
        assert not Person.objects.filter(username="ode").exists()
