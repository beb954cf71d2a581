"""Who sees which page. A person has one room of the board as a home; `PAGES` opens pages to roles."""

import functools
from collections.abc import Callable
from typing import Concatenate, Literal, ParamSpec, cast

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse

from .models import Clearance, Person, Role

Room = Literal["desk", "field", "service", ""]

# Whose home is where; of several roles the first here decides. "" is the home of somebody without a role.
ROOMS: dict[Room, tuple[Role, ...]] = {
    "desk": (Role.OPERATOR, Role.CHECKER, Role.ENGINEER, Role.ADMINISTRATOR),
    "field": (Role.FOREMAN, Role.CREW),
    "service": (Role.SERVICE,),
}

# Which roles may look at which page. Foremen and crews see the sheets of their own clearances only.
PAGES: dict[str, tuple[Role, ...]] = {
    "board": ROOMS["desk"],
    "clearance": ROOMS["desk"],
    "changes": ROOMS["desk"],
    "people": (Role.ADMINISTRATOR,),
    "notices": (Role.OPERATOR, Role.CHECKER, Role.SERVICE),
    "network": (*ROOMS["desk"], *ROOMS["field"]),
    "import": (Role.ENGINEER,),
    "field": ROOMS["field"],
    "sheet": (*ROOMS["field"], Role.OPERATOR, Role.CHECKER),
    "service": (Role.SERVICE, Role.OPERATOR, Role.CHECKER),
}
EVERY_SHEET = (Role.OPERATOR, Role.CHECKER)

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]


def room_of(person: Person) -> Room:
    """The room that a person comes home to."""
    return next((room for room, roles in ROOMS.items() if person.has_role(*roles)), "")


def person_of(request: HttpRequest) -> Person:
    """Who asks, on a page that only signed-in people get."""
    return cast(Person, request.user)


def page(name: str) -> Callable[[View[P]], View[P]]:
    """A page for those who are signed in and have a role in `PAGES[name]`; anybody else gets 403 and a
    sentence."""

    def guard(view: View[P]) -> View[P]:
        @functools.wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            person = person_of(request)
            if not person.has_role(*PAGES[name]):
                names = ", ".join(Role(role).label for role in PAGES[name])
                raise PermissionDenied(f"This page is for these roles: {names}. You are {roles_of(person)}.")
            return view(request, *args, **kwargs)

        return cast(View[P], login_required(guarded))

    return guard


def roles_of(person: Person) -> str:
    """A person's roles in words."""
    return ", ".join(Role(role).label for role in person.roles) or "without a role"


def own(person: Person) -> QuerySet[Clearance]:
    """The clearances that a person holds, is the alternate of, or has been signed on under."""
    return Clearance.objects.filter(
        Q(holder=person) | Q(alternate=person) | Q(sign_ons__name=str(person))
    ).distinct()


def may_see_sheet(person: Person, number: int) -> bool:
    return person.has_role(*EVERY_SHEET) or own(person).filter(pk=number).exists()


def may_look(person: object) -> bool:
    """Who sees circuits and devices: reports of them carry the names of crews, so not customer service. Asked
    by circuits through a setting.
    """
    return isinstance(person, Person) and person.has_role(*PAGES["network"])


def may_change_network(person: object) -> bool:
    """Who hands in network packages. Asked by circuits through a setting."""
    return isinstance(person, Person) and person.has_role(*PAGES["import"])
