"""What is on the line now: tags, people, ground sets, tests. Each row is something somebody reported; none is
ever edited away.
"""

from django.db import models
from django.db.models import Q

from .jobs import PHASES, Clearance, IsolationPoint


class Tag(models.Model):
    """A device tag as it was reported hung at a point, and, once, as taken off."""

    number = models.CharField(max_length=24)
    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="tags")
    point = models.ForeignKey(IsolationPoint, models.PROTECT, related_name="tags")
    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    hung_at = models.DateTimeField()
    hung_by = models.TextField()
    off_at = models.DateTimeField(null=True, blank=True)
    off_by = models.TextField(blank=True)
    irregular = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="tag_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.CheckConstraint(
                name="tag_off_by_someone", condition=Q(off_at__isnull=True) | ~Q(off_by="")
            ),
            models.UniqueConstraint(
                name="tag_hung_once", fields=["number"], condition=Q(off_at__isnull=True)
            ),
        ]

    def __str__(self) -> str:
        return self.number


class SignOn(models.Model):
    """One person under one clearance, from signing on to signing off."""

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="sign_ons")
    name = models.TextField()
    on_at = models.DateTimeField()
    off_at = models.DateTimeField(null=True, blank=True)
    irregular = models.TextField(blank=True)

    class Meta:
        ordering = ["on_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="signed_on_once", fields=["clearance", "name"], condition=Q(off_at__isnull=True)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class GroundSet(models.Model):
    """One set of protective grounds, by its number, at one pole. The same number reported at two poles is two
    rows, the second marked: a set that nobody counts would be closed upon.
    """

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="ground_sets")
    label = models.TextField()
    pole = models.TextField(help_text="as it was said: a number that is not on the network is stored too")
    phases = models.CharField(max_length=3)
    on_at = models.DateTimeField()
    on_by = models.TextField()
    off_at = models.DateTimeField(null=True, blank=True)
    off_by = models.TextField(blank=True)
    irregular = models.TextField(blank=True)

    class Meta:
        ordering = ["on_at", "pk"]
        constraints = [
            models.CheckConstraint(name="ground_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.UniqueConstraint(
                name="ground_set_once_at_a_pole",
                fields=["clearance", "label", "pole"],
                condition=Q(off_at__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label} at {self.pole}"


class VoltageTest(models.Model):
    """A test for voltage at the work, tester proven before and after (29 CFR 1910.269(m)(3)(vi), (n)(5))."""

    class Result(models.TextChoices):
        NONE = "none", "no voltage found"
        PRESENT = "present", "VOLTAGE PRESENT"

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="tests")
    pole = models.TextField(help_text="as it was said: a number that is not on the network is stored too")
    phases = models.CharField(max_length=3)
    result = models.CharField(max_length=8, choices=Result)
    instrument = models.TextField()
    tester_proven = models.BooleanField()
    done_at = models.DateTimeField()
    said_by = models.TextField()
    irregular = models.TextField(blank=True)
    queued = models.BooleanField(
        default=False, db_default=False, help_text="came late from a telephone: lifts no finding"
    )

    class Meta:
        ordering = ["done_at", "pk"]
        constraints = [
            models.CheckConstraint(name="test_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.CheckConstraint(name="test_result_known", condition=Q(result__in=["none", "present"])),
        ]

    def __str__(self) -> str:
        return f"{self.result} at {self.pole}"
