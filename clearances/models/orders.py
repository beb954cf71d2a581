"""The switching order of a clearance: both halves, one step given at a time."""

from django.db import models
from django.db.models import F, Q

from .jobs import PHASES, Clearance, IsolationPoint
from .people import Person


class SwitchingOrder(models.Model):
    """What the operator has written for one clearance. A second person checks it before the first step is
    given.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        CHECKED = "checked", "checked"
        PAUSED = "paused", "paused"
        FINISHED = "finished", "finished"
        WITHDRAWN = "withdrawn", "withdrawn"

    clearance = models.OneToOneField(Clearance, models.CASCADE, primary_key=True, related_name="order")
    state = models.CharField(max_length=16, choices=State, default=State.DRAFT)
    written_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    checked_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)
    network_revision = models.BigIntegerField(help_text="the network it was written on")
    paused_why = models.TextField(blank=True)
    rewritten_by = models.ForeignKey(
        Person,
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        help_text="who wrote the way back again, after the isolate half was done",
    )
    rewritten_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="order_state_known",
                condition=Q(state__in=["draft", "checked", "paused", "finished", "withdrawn"]),
            ),
            models.CheckConstraint(
                name="order_checked_by_another",
                condition=(
                    Q(state__in=["draft", "withdrawn"])
                    | Q(checked_by__isnull=False, checked_at__isnull=False)
                )
                & (Q(checked_by__isnull=True) | ~Q(checked_by=F("written_by"))),
            ),
            models.CheckConstraint(
                name="order_rewritten_checked_by_another",
                condition=Q(rewritten_by__isnull=True)
                | Q(rewritten_at__isnull=False)
                & (Q(checked_by__isnull=True) | ~Q(checked_by=F("rewritten_by"))),
            ),
            models.CheckConstraint(name="order_paused_why", condition=~Q(state="paused") | ~Q(paused_why="")),
        ]

    def __str__(self) -> str:
        return f"order {self.clearance_id}"


class Step(models.Model):
    class Half(models.TextChoices):
        ISOLATE = "isolate", "isolate"
        RESTORE = "restore", "restore"

    class Operation(models.TextChoices):
        OPEN = "open", "open, make inoperable and tag"
        CHECK_OPEN = "check_open", "check open, make inoperable and tag"
        REMOVE_TAG = "remove_tag", "remove tag"
        CLOSE = "close", "close"

    class State(models.TextChoices):
        WAITING = "waiting", "not given"
        GIVEN = "given", "given, not yet reported"
        REPORTED = "reported", "reported"
        LEFT_OUT = "left_out", "left out"

    order = models.ForeignKey(SwitchingOrder, models.CASCADE, related_name="steps")
    half = models.CharField(max_length=8, choices=Half)
    place = models.PositiveSmallIntegerField()
    operation = models.CharField(max_length=16, choices=Operation)
    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    point = models.ForeignKey(
        IsolationPoint,
        models.CASCADE,
        related_name="steps",
        null=True,
        blank=True,
        help_text="none where load is picked up or given back: such a step has no tag",
    )
    state = models.CharField(max_length=16, choices=State, default=State.WAITING)
    given_at = models.DateTimeField(null=True, blank=True)
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    given_to = models.CharField(max_length=80, blank=True)
    reported_phases = models.CharField(max_length=3, blank=True, default="")
    reported_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["half", "place"]
        constraints = [
            models.CheckConstraint(name="step_half_known", condition=Q(half__in=["isolate", "restore"])),
            models.CheckConstraint(
                name="step_operation_fits_half",
                condition=Q(half="isolate", operation__in=["open", "check_open"], point__isnull=False)
                | Q(half="restore", operation__in=["remove_tag", "close"], point__isnull=False)
                | Q(operation__in=["open", "close"], point__isnull=True),
            ),
            models.CheckConstraint(
                name="step_state_known", condition=Q(state__in=["waiting", "given", "reported", "left_out"])
            ),
            models.CheckConstraint(name="step_phases", condition=Q(phases__regex=PHASES) & ~Q(phases="")),
            models.CheckConstraint(
                name="step_given_by_someone",
                condition=Q(state__in=["waiting", "left_out"])
                | (Q(given_at__isnull=False, given_by__isnull=False) & ~Q(given_to="")),
            ),
            models.CheckConstraint(
                name="step_reported_whole",
                condition=~Q(state="reported") | Q(reported_phases=F("phases"), reported_at__isnull=False),
            ),
            # At the end of a statement, not of each row: one statement puts steps into another turn.
            models.UniqueConstraint(
                name="step_place_once",
                fields=["order", "half", "place"],
                deferrable=models.Deferrable.IMMEDIATE,
            ),
            models.UniqueConstraint(
                name="one_step_given_at_a_time", fields=["order"], condition=Q(state="given")
            ),
            models.UniqueConstraint(
                name="one_step_given_a_device", fields=["device"], condition=Q(state="given")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_id} {self.half} {self.place}"

    @property
    def tag_number(self) -> str:
        """Of the tag that is hung or taken off with it; "" where none is."""
        return self.point.tag_number if self.point else ""
