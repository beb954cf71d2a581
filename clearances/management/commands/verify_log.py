from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clearances import log
from clearances.models import LogEntry


class Command(BaseCommand):
    help = "Walk the operations log's chain from its first entry and name every place where it is broken."

    def handle(self, *args: Any, **options: Any) -> None:
        faults = list(log.faults())
        for fault in faults:
            self.stderr.write(fault)
        if faults:
            raise CommandError(f"the log is broken in {len(faults)} place(s)")
        last = LogEntry.objects.order_by("-number").first()
        self.stdout.write(
            f"{last.number} entries, unbroken, last digest {last.digest}" if last else "the log is empty"
        )
