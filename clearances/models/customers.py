"""Whose power goes: who was counted in when the order was checked, who answered, and who was out from when to
when.
"""

from django.db import models
from django.db.models import F, Q

from .jobs import Clearance
from .people import Person
from .troubles import Trouble


class AffectedPremises(models.Model):
    """A premises that the checked order takes out. A life-support one is answered for by a named person."""

    clearance = models.ForeignKey(Clearance, models.CASCADE, related_name="affected")
    premises = models.ForeignKey("circuits.Premises", models.PROTECT, related_name="+")
    care = models.CharField(max_length=16)
    told = models.PositiveSmallIntegerField(
        default=0, help_text="the telling (Clearance.telling) that this premises was told last; 0 = not told"
    )
    back_by = models.DateTimeField(
        null=True, blank=True, help_text="by when power is back, as this premises was told last"
    )
    briefly = models.BooleanField(
        db_default=False, help_text="out only while load is switched over to a tie and back"
    )
    answered_by = models.CharField(
        max_length=80, blank=True, help_text="the person at the premises who answered"
    )
    plan = models.CharField(max_length=200, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="affected_once", fields=["clearance", "premises"]),
            models.CheckConstraint(
                name="answer_is_a_person",
                condition=Q(answered_at__isnull=True)
                | (~Q(answered_by="") & ~Q(plan="") & Q(taken_by__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.premises_id} in {self.clearance_id}"


class Interruption(models.Model):
    """A premises without its normal supply, from the reported minute to the reported minute: planned, under a
    clearance, or unplanned, in a trouble.
    """

    premises = models.ForeignKey("circuits.Premises", models.PROTECT, related_name="+")
    clearance = models.ForeignKey(
        Clearance, models.PROTECT, null=True, blank=True, related_name="interruptions"
    )
    trouble = models.ForeignKey(Trouble, models.PROTECT, null=True, blank=True, related_name="interruptions")
    off_at = models.DateTimeField()
    on_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="planned_or_in_trouble",
                condition=Q(clearance__isnull=False, trouble__isnull=True)
                | Q(clearance__isnull=True, trouble__isnull=False),
            ),
            models.UniqueConstraint(name="out_once", fields=["premises"], condition=Q(on_at__isnull=True)),
            models.CheckConstraint(
                name="on_after_off", condition=Q(on_at__isnull=True) | Q(on_at__gte=F("off_at"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.premises_id} from {self.off_at}"
