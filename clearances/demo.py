"""The people of the made-up utility, for the demo and the tests. All invented; the telephone numbers are
reserved for fiction."""

import datetime
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone

from .models import Person, Role

UTILITY = "Orrin Vale Municipal Light"
QUALIFIED_DAYS = 365


@dataclass(frozen=True, slots=True)
class Member:
    """One of the demo's people."""

    login: str
    first_name: str
    last_name: str
    roles: tuple[Role, ...]
    phone: str = ""
    radio: str = ""
    qualified: bool = False

    @property
    def name(self) -> str:
        return f"{self.first_name} {self.last_name}"

    @property
    def password(self) -> str:
        return f"{self.login}-orrin-vale"


CAST = (
    Member("dana", "Dana", "Reyes", (Role.OPERATOR,), "555-0100", "channel 1"),
    Member("ines", "Ines", "Okafor", (Role.OPERATOR, Role.CHECKER), "555-0101", "channel 1"),
    Member("ana", "Ana", "Duarte", (Role.FOREMAN,), "555-0117", "channel 2", qualified=True),
    Member("bo", "Bo", "Lindqvist", (Role.FOREMAN,), "555-0142", "channel 4", qualified=True),
    Member("tom", "Tom", "Weir", (Role.FOREMAN,), "555-0163", "channel 5"),
    Member("sal", "Sal", "Moreno", (Role.CREW,), "555-0128", "channel 2"),
    Member("mira", "Mira", "Patel", (Role.SERVICE,), "555-0110"),
    Member("jon", "Jon", "Castellan", (Role.ENGINEER,), "555-0150"),
    Member("ruth", "Ruth", "Halvorsen", (Role.ADMINISTRATOR,), "555-0190"),
)


def logins() -> list[tuple[str, str, str]]:
    """One log-in for each role: what the role is called, log-in name, password."""
    by_role = {role: next(member for member in CAST if role in member.roles) for role in Role}
    return [(role.label, member.login, member.password) for role, member in by_role.items()]


@transaction.atomic
def load() -> None:
    """Bring the people to what `CAST` says, passwords included; qualifications run for a year from today."""
    until = timezone.localdate() + datetime.timedelta(days=QUALIFIED_DAYS)
    for member in CAST:
        Person.objects.update_or_create(
            username=member.login,
            defaults={
                "first_name": member.first_name,
                "last_name": member.last_name,
                "roles": list(member.roles),
                "employer": UTILITY,
                "phone": member.phone,
                "radio": member.radio,
                "may_hold_until": until if member.qualified else None,
                "is_staff": Role.ADMINISTRATOR in member.roles,
                "password": make_password(member.password),
            },
        )
