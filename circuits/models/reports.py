"""What people reported about the positions of devices."""

from django.db import models
from django.db.models import F, Q

from circuits import enumerations as words
from circuits.models.base import one_of
from circuits.models.equipment import Device


class PositionReport(models.Model):
    """Somebody's word that one phase of a device was opened, closed or found so: append-only.

    The position of a device phase is its report with the greatest (`done_at`, `id`), else the normal one.
    `made_inoperable` says how (barrel out, jumper lifted and secured, locked), `said_by` who, `how` by which
    way the word came; `irregular` says what is wrong with it. A correction is another report. The database
    refuses UPDATE, DELETE and TRUNCATE; an import retires devices and never deletes them, so the foreign key
    holds for ever.
    """

    device = models.ForeignKey(Device, models.PROTECT, related_name="reports", db_index=False)
    phase = models.CharField()
    position = models.CharField()
    made_inoperable = models.CharField(default="", blank=True)
    said_by = models.CharField()
    how = models.CharField()
    ordered_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField()
    reported_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    irregular = models.CharField(default="", blank=True)

    class Meta:
        constraints = [
            one_of("circuits_positionreport_phase", "phase", words.PHASES),
            one_of("circuits_positionreport_position", "position", words.POSITIONS),
            one_of("circuits_positionreport_how", "how", words.HOW_REPORTED),
            models.CheckConstraint(name="circuits_positionreport_said_by", condition=~Q(said_by="")),
            models.CheckConstraint(
                name="circuits_positionreport_done_before_entered", condition=Q(done_at__lte=F("entered_at"))
            ),
        ]
        indexes = [
            models.Index(fields=["device", "phase", "-done_at", "-id"], name="circuits_position_latest"),
        ]

    def __str__(self) -> str:
        return f"{self.device_id} {self.phase} {self.position}"
