"""`manage.py import_network PATH`: make a network package, a folder or zip file, the network in use."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from circuits import checks, importer, packagefile


class Command(BaseCommand):
    help = "Check a network package (a folder or zip file) and make it the network in use."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--note", default="", help="what this revision is about")

    def handle(self, *args: Any, path: Path, note: str, **options: Any) -> None:
        try:
            raw = packagefile.read(path)
        except OSError as error:
            raise CommandError(f"{path} can't be read: {error.strerror}.") from None
        checked = checks.check(raw)
        for warning in checked.warnings:
            self.stderr.write(f"warning: {warning}")
        for fault in checked.faults:
            self.stderr.write(str(fault))
        if checked.faults:
            raise CommandError(f"{len(checked.faults)} faults; nothing was changed.")
        outcome = importer.import_network(checked=checked, note=note, progress=self.stdout.write)
        if outcome.refusals:
            for reason in outcome.refusals:
                self.stderr.write(f"refused: {reason}")
            raise CommandError(f"{len(outcome.refusals)} reasons against this import; nothing was changed.")
        if outcome.revision is None:
            self.stdout.write("The network in use is this very package; nothing was changed.")
        else:
            self.stdout.write(f"The network in use is now revision {outcome.revision.pk}.")
