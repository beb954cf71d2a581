"""The operations log: append-only and hash-chained."""

from django.db import models
from django.db.models import Q

from .jobs import Clearance
from .people import Person


class LogEntry(models.Model):
    """One thing ordered, reported or decided. Written by `clearances.log.append` only; corrections are new
    entries.
    """

    number = models.BigIntegerField(primary_key=True, help_text="1, 2, 3 ... without gaps")
    verb = models.CharField(max_length=40)
    words = models.TextField(help_text="the sentence a person reads")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+", help_text="who was at the keyboard")
    speaking_for = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    how = models.CharField(max_length=16)
    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="entries", null=True, blank=True)
    ordered_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    reported_at = models.DateTimeField(null=True, blank=True)
    entered_at = models.DateTimeField()
    irregular = models.TextField(blank=True)
    key = models.UUIDField(null=True, blank=True, help_text="the sender's idempotency key")
    data = models.JSONField(default=dict)
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "log entries"
        indexes = [
            models.Index(fields=["clearance", "number"], name="log_by_clearance"),
            models.Index(fields=["number"], name="log_irregular", condition=~Q(irregular="")),
        ]
        constraints = [
            models.UniqueConstraint(name="one_entry_a_key", fields=["key"]),
            models.CheckConstraint(
                name="log_how_known", condition=Q(how__in=["board", "radio", "telephone", "in person"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.verb}"
