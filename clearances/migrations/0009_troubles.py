"""Unplanned interruptions, and the facts out of the ordinary that later orders lean on."""

from pathlib import Path
from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F, Q

SQL = Path(__file__).with_name("sql") / "0009_troubles.sql"

# What stood without a job becomes a trouble of the minute it began, at the device that was reported last by then.
OLD_ONES = """
ALTER TABLE clearances_interruption DISABLE TRIGGER a_ended_once;
INSERT INTO clearances_trouble (device_id, began_at, ended_at, cause, crew, say, telling, version)
    SELECT r.device_id, i.off_at, CASE WHEN bool_and(i.on_at IS NOT NULL) THEN max(i.on_at) END, '', '', '', 0, 1
    FROM clearances_interruption i JOIN LATERAL (
        SELECT device_id FROM circuits_positionreport WHERE done_at <= i.off_at ORDER BY done_at DESC, id LIMIT 1) r ON true
    WHERE i.clearance_id IS NULL GROUP BY r.device_id, i.off_at;
UPDATE clearances_interruption i SET trouble_id = t.number FROM clearances_trouble t
    WHERE i.clearance_id IS NULL AND t.began_at = i.off_at;
SET CONSTRAINTS ALL IMMEDIATE;
ALTER TABLE clearances_interruption ENABLE TRIGGER a_ended_once;
"""


def to(model: str, *, null: bool = False, blank: bool = False, back: str = "+") -> Any:
    protect = django.db.models.deletion.PROTECT
    return models.ForeignKey(to=model, on_delete=protect, null=null, blank=blank, related_name=back)


def row_id() -> Any:
    return models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")


def check(name: str, condition: Q) -> models.CheckConstraint:
    return models.CheckConstraint(name=name, condition=condition)


class Migration(migrations.Migration):
    dependencies = [("circuits", "0003_handed_in"), ("clearances", "0008_said_in_full")]
    operations = [
        migrations.CreateModel(
            "Trouble",
            [
                ("number", models.BigAutoField(primary_key=True, serialize=False)),
                ("began_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("cause", models.CharField(blank=True, help_text="empty: nobody has said", max_length=200)),
                ("crew", models.CharField(blank=True, max_length=80)),
                ("back_by", models.DateTimeField(blank=True, help_text="power back by", null=True)),
                (
                    "next_word_at",
                    models.DateTimeField(blank=True, help_text="when customers hear more", null=True),
                ),
                (
                    "say",
                    models.CharField(blank=True, help_text="what may be read to a caller", max_length=300),
                ),
                ("said_at", models.DateTimeField(blank=True, null=True)),
                (
                    "telling",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="how often customers were promised"
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
                ("device", to("circuits.device")),
            ],
            {
                "constraints": [
                    check(
                        "trouble_ends_after_it_began",
                        Q(ended_at__isnull=True) | Q(ended_at__gte=F("began_at")),
                    ),
                    check("trouble_said_at_some_time", Q(say="") | Q(said_at__isnull=False)),
                ]
            },
        ),
        migrations.AddField(
            "interruption",
            "trouble",
            to("clearances.trouble", blank=True, null=True, back="interruptions"),
        ),
        migrations.RunSQL(OLD_ONES),
        migrations.AddConstraint(
            "interruption",
            check(
                "planned_or_in_trouble",
                Q(clearance__isnull=False, trouble__isnull=True)
                | Q(clearance__isnull=True, trouble__isnull=False),
            ),
        ),
        migrations.CreateModel(
            "Blow",
            [
                ("id", row_id()),
                ("phases", models.CharField(max_length=3)),
                ("closed_at", models.DateTimeField()),
                ("dropped_at", models.DateTimeField()),
                ("said_by", models.TextField()),
                ("device", to("circuits.device")),
            ],
            {
                "constraints": [
                    check("blow_phases", Q(phases__regex=r"^A?B?C?$") & ~Q(phases="")),
                    check("blow_drops_after_closing", Q(dropped_at__gte=F("closed_at"))),
                ]
            },
        ),
        migrations.CreateModel(
            "Patrol",
            [
                ("id", row_id()),
                ("found", models.TextField()),
                ("done_at", models.DateTimeField()),
                ("said_by", models.TextField()),
                ("device", to("circuits.device")),
            ],
            {"constraints": [check("patrol_found_something", ~Q(found=""))]},
        ),
        migrations.CreateModel(
            "NeverOn",
            [
                ("id", row_id()),
                ("said_by", models.CharField(help_text="the holder, by name", max_length=160)),
                ("second", models.CharField(help_text="who says so as well", max_length=160)),
                ("said_at", models.DateTimeField()),
                (
                    "ground",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="never_on",
                        to="clearances.groundset",
                    ),
                ),
            ],
            {
                "constraints": [
                    check(
                        "never_on_said_by_two",
                        ~Q(second="") & ~Q(said_by="") & ~Q(second__iexact=F("said_by")),
                    )
                ]
            },
        ),
        migrations.CreateModel(
            "Call",
            [
                (
                    "entry",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        primary_key=True,
                        related_name="call",
                        serialize=False,
                        to="clearances.logentry",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("out", "power is out"),
                            ("half", "half bright, half dim"),
                            ("wire", "wire on the ground"),
                        ],
                        max_length=8,
                    ),
                ),
                ("place", models.TextField(help_text="as it was said")),
                ("outside", models.BooleanField()),
                ("at", models.DateTimeField()),
                ("device", to("circuits.device", null=True)),
                ("premises", to("circuits.premises", null=True)),
                ("transformer", to("circuits.transformer", null=True)),
            ],
            {
                "constraints": [
                    check("call_kind_known", Q(kind__in=["out", "half", "wire"])),
                    check("call_from_somewhere", ~Q(place="")),
                ]
            },
        ),
        migrations.AddField(
            "voltagetest",
            "queued",
            models.BooleanField(
                db_default=False, default=False, help_text="came late from a telephone: lifts no finding"
            ),
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
