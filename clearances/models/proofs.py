"""The proofs that broke under a clearance that was out, and what its holder said to it."""

from django.db import models
from django.db.models import Q

from .jobs import Clearance


class BrokenProof(models.Model):
    """Ways by which sources came to reach the limits of a clearance that is out, seen at one moment.

    It stays until the holder has said that everybody is off the line. `over` names each way by device and
    phase, `words` tells them; `gone_at` is when none of them was open any more.
    """

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="broken_proofs")
    over = models.JSONField(help_text="device and phase of each way, the same however it is told")
    words = models.TextField()
    revision = models.IntegerField(help_text="the network revision it was computed from")
    raised_at = models.DateTimeField()
    gone_at = models.DateTimeField(null=True, blank=True)
    people_off = models.BooleanField(null=True, blank=True, help_text="what the holder said last")
    answered_at = models.DateTimeField(null=True, blank=True)
    said_by = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="broken_proof_answered_by_someone",
                condition=Q(people_off__isnull=True, answered_at__isnull=True, said_by="")
                | (Q(people_off__isnull=False, answered_at__isnull=False) & ~Q(said_by="")),
            ),
        ]

    def __str__(self) -> str:
        return f"broken proof {self.pk} of clearance {self.clearance_id}"
