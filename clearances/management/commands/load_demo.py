"""`manage.py load_demo`: the people of the made-up utility; with `--print-logins`, who may sign in."""

import datetime
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from clearances.models import Person, Role

UTILITY = "Orrin Vale Municipal Light"
QUALIFIED_DAYS = 365


@dataclass(frozen=True, slots=True)
class Member:
    """One of the demo's people; all invented, the telephone numbers are reserved for fiction."""

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


class Command(BaseCommand):
    help = "Load the people of the made-up utility; only on a demo, because their passwords are published."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--print-logins", action="store_true", help="change nothing; print one log-in for each role"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.DEMO is None:
            raise CommandError(
                "This board is no demo (DEMO is not set): it gets no people with published passwords."
            )
        if options["print_logins"]:
            width = max(len(role) for role, _, _ in logins())
            for role, login, password in logins():
                self.stdout.write(f"{role:<{width}}  {login:<6}  {password}")
        else:
            load()
