"""`manage.py build_demo PATH`: write the network package of an invented utility of any size."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from circuits.utility.build import LEAST, build


class Command(BaseCommand):
    help = "Write the network package of an invented utility, Orrin Vale Municipal Light, into a folder."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--customers", type=int, default=3000, help="exactly so many, 3000 unless named")

    def handle(self, *args: Any, path: Path, customers: int, **options: Any) -> None:
        if customers < LEAST:
            raise CommandError(f"The smallest has {LEAST} customers.")
        build(path, customers)
        self.stdout.write(f"A utility with {customers} customers is in {path}.")
