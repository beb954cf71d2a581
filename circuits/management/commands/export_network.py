"""`manage.py export_network PATH`: write the network in use as a package, a folder or zip file."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from circuits import importer, packagefile


class Command(BaseCommand):
    help = "Write the network in use as a network package: a folder, or a zip file if PATH ends in .zip."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)

    def handle(self, *args: Any, path: Path, **options: Any) -> None:
        files = importer.export_files()
        packagefile.write(path, files)
        self.stdout.write(f"{len(files)} files written to {path}.")
