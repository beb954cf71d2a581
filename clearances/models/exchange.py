"""What host utility and contractor have told each other before work (29 CFR 1910.269(a)(3))."""

from django.db import models
from django.db.models import Q

from .jobs import Clearance
from .people import Person


class InformationExchange(models.Model):
    """One exchange for one clearance, as somebody of the utility recorded it; a further one is a further
    row."""

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="exchanges")
    with_whom = models.CharField(max_length=80, help_text="the person who spoke for the contractor")
    told = models.CharField(max_length=400, help_text="what the utility told: lines, site, hazards")
    heard = models.CharField(max_length=400, help_text="what the contractor told: the work's own hazards")
    done_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="exchange_in_full", condition=~Q(with_whom="") & ~Q(told="") & ~Q(heard="")
            ),
        ]

    def __str__(self) -> str:
        return f"exchange with {self.with_whom} for clearance {self.clearance_id}"
