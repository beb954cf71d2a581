"""What protects people and is no clearance: hot-line holds, customers' do-not-operates, field clearances.

Three tables, because the kinds never merge with a clearance or with each other. Numbers are of their own
series and never used again; the letters before them keep them from being taken for a clearance's.
"""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from .jobs import PHASES
from .people import Person

SOME_PHASES = Q(phases__regex=PHASES) & ~Q(phases="")


class HotLineHold(models.Model):
    """A crew works energized beyond a device that can close by itself: reclosing is off there, and a hold tag
    hangs at its control (common practice). `nodes` and `phases` are where the work is.
    """

    class State(models.TextChoices):
        ASKED = "asked", "asked for"
        GIVEN = "given", "given, not yet accepted"
        ACCEPTED = "accepted", "accepted"
        GIVEN_BACK = "given_back", "given back"
        WITHDRAWN = "withdrawn", "withdrawn"

    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    holder = models.ForeignKey(Person, models.PROTECT, related_name="holds")
    crew = models.CharField(max_length=80)
    work = models.CharField(max_length=200)
    place_words = models.TextField(help_text="made from the poles, never typed")
    nodes = ArrayField(models.TextField())
    phases = models.CharField(max_length=3)
    state = models.CharField(max_length=16, choices=State, default=State.ASKED)
    asked_at = models.DateTimeField()
    given_at = models.DateTimeField(null=True, blank=True)
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_words = models.CharField(max_length=300, blank=True)
    given_back_at = models.DateTimeField(null=True, blank=True)
    given_back_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="hold_state_known",
                condition=Q(state__in=["asked", "given", "accepted", "given_back", "withdrawn"]),
            ),
            models.CheckConstraint(name="hold_phases", condition=SOME_PHASES),
            models.CheckConstraint(name="hold_somewhere", condition=~Q(nodes=[])),
            models.CheckConstraint(
                name="hold_given_by_someone",
                condition=Q(state__in=["asked", "withdrawn"])
                | Q(given_at__isnull=False, given_by__isnull=False),
            ),
            models.CheckConstraint(
                name="hold_accepted_in_words",
                condition=~Q(state__in=["accepted", "given_back"])
                | (Q(accepted_at__isnull=False) & ~Q(accepted_words="")),
            ),
            models.CheckConstraint(
                name="hold_given_back_by_holder",
                condition=~Q(state="given_back")
                | Q(given_back_at__isnull=False, given_back_by__isnull=False, given_back_by=F("holder")),
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        return f"HL-{self.pk}"


class HoldReport(models.Model):
    """What was said of a hot-line hold: of reclosing and the tag at the device, and its holder's answers.

    Of each subject the last entered counts. An answer counts from when the desk knew it: one that was entered
    before an opening says nothing of it.
    """

    class Said(models.TextChoices):
        RECLOSE_OFF = "reclose_off", "reclosing is off"
        RECLOSE_ON = "reclose_on", "reclosing is ON"
        TAG_HUNG = "tag_hung", "the hold tag hangs at the control"
        TAG_OFF = "tag_off", "the hold tag is off"
        STANDS_DOWN = "stands_down", "stands down for the opening"
        STAYS = "stays", "stays for the opening"
        YES = "yes", "yes to the close"
        NO = "no", "NO to the close"

    hold = models.ForeignKey(HotLineHold, models.PROTECT, related_name="reports")
    said = models.CharField(max_length=16, choices=Said)
    words = models.TextField(blank=True)
    done_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    said_by = models.TextField()
    irregular = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="hold_report_known",
                condition=Q(said__in=["reclose_off", "reclose_on", "tag_hung", "tag_off"])
                | Q(said__in=["stands_down", "stays", "yes", "no"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hold_id}: {self.said}"


class DoNotOperate(models.Model):
    """A device kept open for a customer's worker, who has no log-in; only that person, met on site, gives it
    back (common practice). For everybody else it counts as a tag there. It is not a clearance.
    """

    class State(models.TextChoices):
        GIVEN = "given", "stands"
        GIVEN_BACK = "given_back", "given back"

    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    name = models.CharField(max_length=120)
    employer = models.CharField(max_length=120)
    phone = models.CharField(max_length=32)
    work = models.CharField(max_length=200)
    state = models.CharField(max_length=16, choices=State, default=State.GIVEN)
    given_at = models.DateTimeField()
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    given_back_at = models.DateTimeField(null=True, blank=True)
    met_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    met_where = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="do_not_operate_state_known", condition=Q(state__in=["given", "given_back"])
            ),
            models.CheckConstraint(name="do_not_operate_phases", condition=SOME_PHASES),
            models.CheckConstraint(
                name="do_not_operate_named", condition=~Q(name="") & ~Q(employer="") & ~Q(phone="")
            ),
            models.CheckConstraint(
                name="do_not_operate_met",
                condition=Q(state="given", given_back_at__isnull=True, met_by__isnull=True)
                | (
                    Q(state="given_back", given_back_at__isnull=False, met_by__isnull=False)
                    & ~Q(met_where="")
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        return f"DNO-{self.pk}"


class FieldClearance(models.Model):
    """One crew behind its own disconnect in plain sight, without a system operator (29 CFR 1910.269(m)(2)(ii)
    and (iii), seen). `nodes` and `inside_phases` are what lies beyond the device.
    """

    class State(models.TextChoices):
        ON = "on", "on"
        ENDED = "ended", "ended"

    device = models.ForeignKey("circuits.Device", models.PROTECT, related_name="+")
    phases = models.CharField(max_length=3)
    holder = models.ForeignKey(Person, models.PROTECT, related_name="field_clearances")
    crew = models.CharField(max_length=80)
    work = models.CharField(max_length=200)
    nodes = ArrayField(models.TextField())
    inside_phases = models.CharField(max_length=3)
    state = models.CharField(max_length=16, choices=State, default=State.ON)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="field_clearance_state_known", condition=Q(state__in=["on", "ended"])
            ),
            models.CheckConstraint(name="field_clearance_phases", condition=SOME_PHASES),
            models.CheckConstraint(name="field_clearance_somewhere", condition=~Q(nodes=[])),
            models.CheckConstraint(
                name="field_clearance_ended_by_holder",
                condition=Q(state="on", ended_at__isnull=True, ended_by__isnull=True)
                | Q(state="ended", ended_at__isnull=False, ended_by=F("holder")),
            ),
            models.UniqueConstraint(
                name="one_field_clearance_a_device", fields=["device"], condition=Q(state="on")
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        return f"FC-{self.pk}"
