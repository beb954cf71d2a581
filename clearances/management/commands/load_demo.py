"""`manage.py load_demo`: the people of the made-up utility; with `--print-logins`, who may sign in."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from clearances import demo


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
            width = max(len(role) for role, _, _ in demo.logins())
            for role, login, password in demo.logins():
                self.stdout.write(f"{role:<{width}}  {login:<6}  {password}")
        else:
            demo.load()
