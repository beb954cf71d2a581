"""Who may look at what."""

import pytest
from django.test import Client
from django.utils import timezone

from clearances.models import Person
from clearances.rooms import room_of
from clearances.services import on_the_line
from tests.cast import Cast, done

from .looking import look, signed_in

DESK = ("dana", "ines", "jon", "ruth")
FIELD = ("ana", "bo", "tom", "sal")

# Which of the people see each page; everybody else gets 403. {n} is Ana's clearance.
SEEN_BY = {
    "/desk/": DESK,
    "/desk/clearances/{n}/": DESK,
    "/desk/clearances/{n}/order/": DESK,
    "/field/": FIELD,
    "/field/clearances/{n}/": ("ana", "dana", "ines"),
    "/service/": ("mira", "dana", "ines"),
}
EVERYBODY = (*DESK, *FIELD, "mira")


@pytest.mark.parametrize("page", SEEN_BY)
def test_a_page_is_open_to_its_roles_and_refused_to_others_with_a_sentence(cast: Cast, page: str) -> None:
    path = page.format(n=cast.job("checked").pk)
    for name in EVERYBODY:
        seen = look(getattr(cast, name), path)
        assert seen.status == (200 if name in SEEN_BY[page] else 403), name
        if seen.status == 403:
            assert "This page is for these roles" in seen.text or "is another crew's" in seen.text


@pytest.mark.parametrize("page", [*SEEN_BY, "/"])
def test_nobody_sees_anything_without_signing_in(cast: Cast, page: str) -> None:
    path = page.format(n=cast.asked().pk)
    answer = Client().get(path)
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/sign-in?next={path}")


def test_a_sheet_is_open_to_the_alternate_and_to_those_signed_on(cast: Cast) -> None:
    job = cast.bring(cast.asked(alternate=cast.bo), "grounded")
    path = f"/field/clearances/{job.pk}/"
    assert look(cast.bo, path).status == 200
    assert look(cast.sal, path).status == 403
    who = cast.who(cast.ana)
    done(on_the_line.sign_on(who, clearance=job.pk, name=str(cast.sal), done_at=timezone.now()))
    assert look(cast.sal, path).status == 200


@pytest.mark.parametrize(
    ("name", "room"),
    [("dana", "/desk/"), ("jon", "/desk/"), ("ana", "/field/"), ("sal", "/field/"), ("mira", "/service/")],
)
def test_everybody_comes_home_to_their_room(cast: Cast, name: str, room: str) -> None:
    client = signed_in(getattr(cast, name))
    assert client.get("/").headers["Location"] == room


def test_somebody_without_a_role_is_told_so(cast: Cast) -> None:
    person = Person.objects.create(username="new")
    assert room_of(person) == ""
    seen = look(person, "/")
    assert seen.status == 403
    assert "You have no role on this board yet" in seen.text


def test_signing_in_and_out(cast: Cast) -> None:
    client = Client()
    wrong = client.post("/sign-in", {"username": "ana", "password": "not hers"})
    assert wrong.status_code == 200
    right = client.post("/sign-in", {"username": "ana", "password": "ana-orrin-vale"}, follow=True)
    assert right.redirect_chain == [("/", 302), ("/field/", 302)]
    assert client.get("/sign-out").status_code == 405
    assert client.post("/sign-out").headers["Location"] == "/sign-in"
    assert client.get("/field/").status_code == 302


def test_what_is_not_there_is_404(cast: Cast) -> None:
    for person, path in (
        (cast.dana, "/desk/clearances/99/"),
        (cast.dana, "/field/clearances/99/"),
        (cast.dana, f"/desk/clearances/{cast.asked().pk}/poem/"),
        (cast.mira, "/service/?premises=0"),
    ):
        assert look(person, path).status == 404, path


def test_the_desk_hears_when_the_worker_was_last_heard(cast: Cast) -> None:
    said = look(cast.dana, "/desk/").context["heard"]
    assert said == [
        {"words": "worker never heard", "late": True},
        {"words": "timer never heard", "late": True},
    ]
    assert look(cast.ana, "/field/").context["heard"] == []
