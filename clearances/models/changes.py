"""Changes of the network that a job makes: planned, built as the field says, surveyed."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from .jobs import Clearance
from .people import Person


class ChangeSet(models.Model):
    """What a job changes on the network, from its plan until it is surveyed.

    `planned` and `built` are lists of {"change", "given", "words"}, as `circuits.asleft.TRADE` takes them;
    `rows` is what was laid into the network (`asleft.written`), `revision` in which revision. While
    `unsettled` says why, the network on the board is not yet as it was built.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        CONFIRMED = "confirmed", "confirmed as built, not surveyed"
        NOT_DONE = "not_done", "not done"
        SURVEYED = "surveyed", "surveyed"
        WITHDRAWN = "withdrawn", "withdrawn"

    clearance = models.ForeignKey(Clearance, models.PROTECT, related_name="change_sets")
    state = models.CharField(max_length=16, choices=State, default=State.PLANNED)
    planned = models.JSONField(default=list)
    planned_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    planned_at = models.DateTimeField(db_default=Now())
    until = models.DateTimeField(null=True, blank=True, help_text="when its temporary jumper is to be off")
    built = models.JSONField(default=list)
    rows = models.JSONField(default=list)
    said_by = models.TextField(blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    said_at = models.DateTimeField(null=True, blank=True)
    revision = models.ForeignKey(
        "circuits.NetworkRevision", models.PROTECT, related_name="+", null=True, blank=True
    )
    unsettled = models.TextField(blank=True)
    ended_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="change_state_known",
                condition=Q(state__in=["planned", "confirmed", "not_done", "surveyed", "withdrawn"]),
            ),
            models.CheckConstraint(
                name="change_said_by_someone",
                condition=Q(state="planned") | (~Q(said_by="") & Q(said_at__isnull=False)),
            ),
            models.CheckConstraint(
                name="change_built_when_confirmed",
                condition=Q(state__in=["planned", "not_done"], revision__isnull=True, unsettled="")
                | Q(state__in=["confirmed", "surveyed", "withdrawn"], done_at__isnull=False),
            ),
            models.CheckConstraint(
                name="change_in_network_or_told_why",
                condition=~Q(state="confirmed") | Q(revision__isnull=False) | ~Q(unsettled=""),
            ),
            models.CheckConstraint(
                name="change_ended_by_someone",
                condition=~Q(state__in=["surveyed", "withdrawn"])
                | Q(ended_by__isnull=False, ended_at__isnull=False),
            ),
            models.UniqueConstraint(
                name="change_planned_once", fields=["clearance"], condition=Q(state="planned")
            ),
        ]

    def __str__(self) -> str:
        return f"change set {self.pk}"

    @property
    def words(self) -> str:
        """What was built, else what is planned."""
        return "; ".join(one["words"] for one in self.built or self.planned)
