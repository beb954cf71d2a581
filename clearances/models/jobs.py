"""A job, the clearance for exact limits that it needs, and the points that part those limits from every
source.
"""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from .people import Person

PHASES = r"^A?B?C?$"


class Job(models.Model):
    """A piece of planned work. What protects the people on it is its clearance."""

    class State(models.TextChoices):
        ACTIVE = "active", "active"
        FINISHED = "finished", "finished"
        CANCELLED = "cancelled", "cancelled"

    work = models.CharField(max_length=200)
    reason_for_customers = models.CharField(max_length=80)
    requested_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    requested_at = models.DateTimeField(db_default=Now())
    state = models.CharField(max_length=16, choices=State, default=State.ACTIVE)
    cancelled_why = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="job_state_known", condition=Q(state__in=["active", "finished", "cancelled"])
            )
        ]

    def __str__(self) -> str:
        return f"job {self.pk}: {self.work}"


class Clearance(models.Model):
    """Authorization to work within stated limits, held by one named person (29 CFR 1910.269(m)). Its number
    is never used again.
    """

    class State(models.TextChoices):
        ASKED = "asked", "asked for"
        GIVEN = "given", "given, not yet accepted"
        ACCEPTED = "accepted", "accepted"
        FROZEN = "frozen", "frozen: not valid to work"
        RELEASED = "released", "released"
        WITHDRAWN = "withdrawn", "withdrawn"

    number = models.BigAutoField(primary_key=True)
    job = models.ForeignKey(Job, models.PROTECT, related_name="clearances")
    holder = models.ForeignKey(Person, models.PROTECT, related_name="clearances_held")
    alternate = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    stage = models.PositiveSmallIntegerField(
        default=1, help_text="of the job; each has its own limits, times and clearance"
    )
    work = models.CharField(max_length=200, help_text="what is done in this stage")
    crew = models.CharField(max_length=80)
    limits_words = models.CharField(max_length=300, help_text="made from the stored limits, never typed")
    window_start = models.DateTimeField()
    promised_end = models.DateTimeField()
    latest_finish = models.DateTimeField()
    recall_minutes = models.PositiveSmallIntegerField(
        help_text="minutes to have people and grounds off the line"
    )
    state = models.CharField(max_length=16, choices=State, default=State.ASKED)
    version = models.PositiveIntegerField(default=1)
    telling = models.PositiveSmallIntegerField(
        default=0, help_text="how many windows the customers were told: the first, and each that was moved"
    )
    given_at = models.DateTimeField(null=True, blank=True)
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_words = models.CharField(max_length=300, blank=True, help_text="how the holder read it back")
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    frozen_why = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="clearance_state_known",
                condition=Q(state__in=["asked", "given", "accepted", "frozen", "released", "withdrawn"]),
            ),
            models.CheckConstraint(
                name="clearance_window_in_order",
                condition=Q(window_start__lt=F("promised_end")) & Q(promised_end__lte=F("latest_finish")),
            ),
            models.CheckConstraint(name="clearance_stage_counts_from_1", condition=Q(stage__gte=1)),
            models.CheckConstraint(
                name="clearance_given_by_someone",
                condition=Q(state__in=["asked", "withdrawn"])
                | Q(given_at__isnull=False, given_by__isnull=False),
            ),
            models.CheckConstraint(
                name="clearance_accepted_in_words",
                condition=~Q(state__in=["accepted", "released"])
                | (Q(accepted_at__isnull=False) & ~Q(accepted_words="")),
            ),
            models.CheckConstraint(
                name="clearance_released_by_holder",
                condition=~Q(state="released")
                | Q(released_at__isnull=False, released_by__isnull=False, released_by=F("holder")),
            ),
            models.CheckConstraint(
                name="clearance_frozen_why", condition=~Q(state="frozen") | ~Q(frozen_why="")
            ),
        ]

    def __str__(self) -> str:
        return f"clearance {self.number}"


class Limit(models.Model):
    """One piece of the limits: a node or a line, and which of its phases are inside."""

    clearance = models.ForeignKey(Clearance, models.CASCADE, related_name="limits")
    node = models.ForeignKey("circuits.Node", models.PROTECT, null=True, blank=True, related_name="+")
    line = models.ForeignKey("circuits.Line", models.PROTECT, null=True, blank=True, related_name="+")
    phases = models.CharField(max_length=3)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="limit_node_or_line",
                condition=Q(node__isnull=False, line__isnull=True) | Q(node__isnull=True, line__isnull=False),
            ),
            models.CheckConstraint(name="limit_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.UniqueConstraint(name="limit_node_once", fields=["clearance", "node"]),
            models.UniqueConstraint(name="limit_line_once", fields=["clearance", "line"]),
        ]

    def __str__(self) -> str:
        return f"{self.node_id or self.line_id} {self.phases}"


class IsolationPoint(models.Model):
    """A device whose open position, made inoperable and tagged, keeps a source from the limits."""

    clearance = models.ForeignKey(Clearance, models.CASCADE, related_name="points")
    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    place = models.PositiveSmallIntegerField(help_text="1, 2, 3 ...: the second half of the tag's number")

    class Meta:
        ordering = ["place"]
        constraints = [
            models.CheckConstraint(name="point_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.UniqueConstraint(name="point_device_once", fields=["clearance", "device"]),
            models.UniqueConstraint(name="point_place_once", fields=["clearance", "place"]),
        ]

    def __str__(self) -> str:
        return f"{self.device_id} {self.phases}"

    @property
    def tag_number(self) -> str:
        return f"{self.clearance_id}-{self.place}"


class PickUp(models.Model):
    """A device that the order moves besides its points, so that fewer customers are out: a tie that is closed
    onto them, or a switch that is opened so that the tie carries no more than it may. All its phases are
    moved, and back in the restore half. It has no tag: it protects nobody.
    """

    clearance = models.ForeignKey(Clearance, models.CASCADE, related_name="pick_ups")
    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    closes = models.BooleanField(help_text="closed, or else opened")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(name="pick_up_device_once", fields=["clearance", "device"])]

    def __str__(self) -> str:
        return f"{'close' if self.closes else 'open'} {self.device_id}"


class SourceDisposition(models.Model):
    """A customer's source that no device can part from the limits: what was decided about it, and that the
    holder agreed.
    """

    clearance = models.ForeignKey(Clearance, models.CASCADE, related_name="dispositions")
    source = models.ForeignKey("circuits.Source", models.PROTECT, related_name="+")
    decision = models.CharField(max_length=200)
    agreed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField(db_default=Now())

    class Meta:
        constraints = [
            models.UniqueConstraint(name="disposition_source_once", fields=["clearance", "source"]),
            models.CheckConstraint(name="disposition_in_words", condition=~Q(decision="")),
        ]

    def __str__(self) -> str:
        return f"{self.source_id}: {self.decision}"
