from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clearances import log, replay
from clearances.models import LogEntry


class Command(BaseCommand):
    help = "Walk the operations log's chain, replay it, and name every place where something is wrong."

    def handle(self, *args: Any, **options: Any) -> None:
        faults = list(log.faults()) or list(replay.differences())
        for fault in faults:
            self.stderr.write(fault)
        if faults:
            raise CommandError(f"the log is broken, or the tables differ from it, in {len(faults)} place(s)")
        last = LogEntry.objects.order_by("-number").first()
        self.stdout.write(
            f"{last.number} entries, unbroken and as the tables stand, last digest {last.digest}"
            if last
            else "the log is empty"
        )
