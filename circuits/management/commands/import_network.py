"""`manage.py import_network PATH`: make a network package, a folder or zip file, the network in use."""

import gc
import resource
import sys
import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from circuits import checks, importer, packagefile


class Command(BaseCommand):
    help = "Check a network package (a folder or zip file) and make it the network in use."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--note", default="", help="what this revision is about")

    def handle(self, *args: Any, path: Path, note: str, verbosity: int, **options: Any) -> None:
        began = time.monotonic()
        gc.disable()  # millions of cells that all stay: looking for cycles among them takes a quarter longer

        def progress(line: str) -> None:
            if verbosity:
                self.stdout.write(f"{time.monotonic() - began:6.1f} s  {line}")

        progress(f"Reading {path}.")
        try:
            raw = packagefile.read(path)
        except OSError as error:
            raise CommandError(f"{path} can't be read: {error.strerror}.") from None
        checked = checks.check(raw, progress)
        for warning in checked.warnings:
            self.stderr.write(f"warning: {warning}")
        for fault in checked.faults:
            self.stderr.write(str(fault))
        if checked.faults:
            raise CommandError(f"{len(checked.faults)} faults; nothing was changed.")
        outcome = importer.import_network(checked=checked, note=note, progress=progress)
        for sentence in outcome.consequences:
            self.stderr.write(f"look at: {sentence}")
        for sentence in outcome.refusals:
            self.stderr.write(f"refused: {sentence}")
        if outcome.refusals:
            raise CommandError(f"{len(outcome.refusals)} reasons against this import; nothing was changed.")
        if outcome.newer:
            raise CommandError("The network has changed meanwhile; nothing was imported. Import it again.")
        progress(f"Done, with at most {_peak_mb():.0f} MB of memory.")
        if outcome.revision is None:
            self.stdout.write("The network in use is this very package; nothing was changed.")
        else:
            self.stdout.write(f"The network in use is now revision {outcome.revision.pk}.")


def _peak_mb() -> float:
    """The most memory that this process has had at any time, in megabytes."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1e6 if sys.platform == "darwin" else 1e6 / 1024)  # in bytes there, else in KiB
