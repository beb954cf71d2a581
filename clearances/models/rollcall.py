"""The roll-call before a close: who was asked whether they are clear of it, and what they said."""

from django.db import models
from django.db.models import Q

from .jobs import Clearance
from .orders import Step
from .people import Person


class RollCall(models.Model):
    """One holder asked about one step that closes something; answered once, by the holder's own word. Who is
    asked again gets a new row.
    """

    step = models.ForeignKey(Step, models.PROTECT, related_name="roll_calls")
    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="roll_calls")
    why = models.TextField(help_text="what the close would do to this holder, in words")
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    agrees = models.BooleanField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    said_by = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="roll_call_answered_by_someone",
                condition=Q(agrees__isnull=True, answered_at__isnull=True, said_by="")
                | (Q(agrees__isnull=False, answered_at__isnull=False) & ~Q(said_by="")),
            ),
        ]

    def __str__(self) -> str:
        return f"roll-call {self.pk}: clearance {self.clearance_id}, step {self.step_id}"
