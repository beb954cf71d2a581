"""A job has stages, each with a clearance of its own; each premises has its own hour."""

from pathlib import Path

from django.conf import settings
from django.db import migrations, models

SQL = Path(__file__).with_name("sql") / "0012_stages.sql"


class Migration(migrations.Migration):
    dependencies = [("clearances", "0011_as_left")]
    operations = [
        migrations.AddField(
            "clearance",
            "stage",
            models.PositiveSmallIntegerField(
                default=1, help_text="of the job; each has its own limits, times and clearance"
            ),
        ),
        migrations.AddField(
            "clearance",
            "work",
            models.CharField(default="", help_text="what is done in this stage", max_length=200),
            preserve_default=False,
        ),
        migrations.AddField(
            "affectedpremises",
            "back_by",
            models.DateTimeField(
                blank=True, help_text="by when power is back, as this premises was told last", null=True
            ),
        ),
        migrations.AddConstraint(
            "clearance",
            models.CheckConstraint(
                condition=models.Q(stage__gte=1), name="clearance_stage_counts_from_1"
            ),
        ),
        migrations.AddField(
            "switchingorder",
            "rewritten_by",
            models.ForeignKey(
                blank=True,
                help_text="who wrote the way back again, after the isolate half was done",
                null=True,
                on_delete=models.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            "switchingorder", "rewritten_at", models.DateTimeField(blank=True, null=True)
        ),
        migrations.AddConstraint(
            "switchingorder",
            models.CheckConstraint(
                condition=models.Q(rewritten_by__isnull=True)
                | models.Q(rewritten_at__isnull=False)
                & (models.Q(checked_by__isnull=True) | ~models.Q(checked_by=models.F("rewritten_by"))),
                name="order_rewritten_checked_by_another",
            ),
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
