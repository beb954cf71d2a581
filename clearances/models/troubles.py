"""Unplanned interruptions: a trouble begins with an opening that no order is behind and that takes customers
out, and ends when they are back.
"""

from django.db import models
from django.db.models import F, Q


class Trouble(models.Model):
    """Customers out without any work behind it: at which device, since when, and what is known of it.

    It begins and ends by reported positions alone (`clearances.effects`). What people add is the cause, who
    goes there, and what the customers are promised; each word of theirs is in the log.
    """

    number = models.BigAutoField(primary_key=True)
    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    cause = models.CharField(max_length=200, blank=True, help_text="empty: nobody has said")
    crew = models.CharField(max_length=80, blank=True)
    back_by = models.DateTimeField(null=True, blank=True, help_text="power back by")
    next_word_at = models.DateTimeField(null=True, blank=True, help_text="when customers hear more")
    say = models.CharField(max_length=300, blank=True, help_text="what may be read to a caller")
    said_at = models.DateTimeField(null=True, blank=True)
    telling = models.PositiveSmallIntegerField(default=0, help_text="how often customers were promised")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="trouble_ends_after_it_began",
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("began_at")),
            ),
            models.CheckConstraint(
                name="trouble_said_at_some_time", condition=Q(say="") | Q(said_at__isnull=False)
            ),
        ]

    def __str__(self) -> str:
        return f"trouble {self.pk} at {self.device_id}"
