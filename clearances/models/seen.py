"""Facts out of the ordinary that later orders or the desk's questions lean on. All of these only grow."""

from django.db import models
from django.db.models import F, Q

from .jobs import PHASES
from .line import GroundSet
from .log import LogEntry


class Blow(models.Model):
    """A device that was closed and did not hold: its link blew, or it tripped."""

    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    closed_at = models.DateTimeField()
    dropped_at = models.DateTimeField()
    said_by = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(name="blow_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.CheckConstraint(
                name="blow_drops_after_closing", condition=Q(dropped_at__gte=F("closed_at"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.device_id} {self.phases}"


class Patrol(models.Model):
    """Somebody has gone along all that a device feeds, and says what was found."""

    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    found = models.TextField()
    done_at = models.DateTimeField()
    said_by = models.TextField()

    class Meta:
        constraints = [models.CheckConstraint(name="patrol_found_something", condition=~Q(found=""))]

    def __str__(self) -> str:
        return f"patrol behind {self.device_id}"


class NeverOn(models.Model):
    """A ground set that was reported on and never was: said by the holder and by a second crew member."""

    ground = models.OneToOneField(GroundSet, models.PROTECT, related_name="never_on")
    said_by = models.CharField(max_length=160, help_text="the holder, by name")
    second = models.CharField(max_length=160, help_text="who says so as well")
    said_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="never_on_said_by_two",
                condition=~Q(second="") & ~Q(said_by="") & ~Q(second__iexact=F("said_by")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ground_id} never on"


class Call(models.Model):
    """What somebody says of the power at one place: a caller, or a foreman of a transformer.

    `outside`: out, although neither planned work nor a known trouble takes this place out; `device` is then
    the nearest that stands open (metres along the ground), for the desk only. Open until its log entry is
    answered.
    """

    class Kind(models.TextChoices):
        OUT = "out", "power is out"
        HALF = "half", "half bright, half dim"
        WIRE = "wire", "wire on the ground"

    entry = models.OneToOneField(LogEntry, models.PROTECT, primary_key=True, related_name="call")
    kind = models.CharField(max_length=8, choices=Kind)
    place = models.TextField(help_text="as it was said")
    premises = models.ForeignKey("circuits.Premises", models.PROTECT, null=True, related_name="+")
    transformer = models.ForeignKey("circuits.Transformer", models.PROTECT, null=True, related_name="+")
    outside = models.BooleanField()
    device = models.ForeignKey("circuits.Device", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(name="call_kind_known", condition=Q(kind__in=["out", "half", "wire"])),
            models.CheckConstraint(name="call_from_somewhere", condition=~Q(place="")),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.place}"
