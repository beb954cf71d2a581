"""`manage.py add_administrator LOGIN FIRST LAST`: the first person of a new board, who enters the others."""

import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from clearances.models import Person, Role


class Command(BaseCommand):
    help = "Enter the first administrator; the password is asked for. Not when the board has one already."

    def add_arguments(self, parser: CommandParser) -> None:
        for name in ("login", "first", "last"):
            parser.add_argument(name)

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        if Person.objects.filter(roles__contains=[Role.ADMINISTRATOR], is_active=True).exists():
            raise CommandError("The board has an administrator, who enters people on the page People.")
        person = Person(username=options["login"], first_name=options["first"], last_name=options["last"])
        person.roles = [Role.ADMINISTRATOR]
        password = getpass.getpass("Password: ")
        try:
            validate_password(password, person)
            person.set_password(password)
            person.full_clean()
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        person.save()
        self.stdout.write(f"{person} signs in as {person.username}.")
