"""Hot-line holds, customers' do-not-operates and field clearances, with what the database holds of them and
the moves of their states frozen as they were when this was written.
"""

from pathlib import Path
from typing import Any

import django.contrib.postgres.fields
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQL = Path(__file__).with_name("sql") / "0010_protections.sql"

MOVES = {
    "hold": [
        "->asked",
        "asked->given",
        "asked->withdrawn",
        "given->withdrawn",
        "given->accepted",
        "accepted->given_back",
    ],
    "do_not_operate": ["->given", "given->given_back"],
    "field_clearance": ["->on", "on->ended"],
}


def fill(apps: Any, editor: BaseDatabaseSchemaEditor) -> None:
    rows = [(kind, *move.split("->")) for kind, moves in MOVES.items() for move in moves]
    with editor.connection.cursor() as cursor:
        cursor.executemany("INSERT INTO clearances_transition VALUES (%s, %s, %s)", rows)


class Migration(migrations.Migration):

    dependencies = [
        ('circuits', '0003_handed_in'),
        ("clearances", "0009_troubles"),
    ]

    operations = [
        migrations.CreateModel(
            name='HotLineHold',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('crew', models.CharField(max_length=80)),
                ('work', models.CharField(max_length=200)),
                ('place_words', models.TextField(help_text='made from the poles, never typed')),
                ('nodes', django.contrib.postgres.fields.ArrayField(base_field=models.TextField(), size=None)),
                ('phases', models.CharField(max_length=3)),
                ('state', models.CharField(choices=[('asked', 'asked for'), ('given', 'given, not yet accepted'), ('accepted', 'accepted'), ('given_back', 'given back'), ('withdrawn', 'withdrawn')], default='asked', max_length=16)),
                ('asked_at', models.DateTimeField()),
                ('given_at', models.DateTimeField(blank=True, null=True)),
                ('accepted_at', models.DateTimeField(blank=True, null=True)),
                ('accepted_words', models.CharField(blank=True, max_length=300)),
                ('given_back_at', models.DateTimeField(blank=True, null=True)),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
                ('given_back_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('given_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('holder', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='holds', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='HoldReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('said', models.CharField(choices=[('reclose_off', 'reclosing is off'), ('reclose_on', 'reclosing is ON'), ('tag_hung', 'the hold tag hangs at the control'), ('tag_off', 'the hold tag is off'), ('stands_down', 'stands down for the opening'), ('stays', 'stays for the opening'), ('yes', 'yes to the close'), ('no', 'NO to the close')], max_length=16)),
                ('words', models.TextField(blank=True)),
                ('done_at', models.DateTimeField()),
                ('entered_at', models.DateTimeField()),
                ('said_by', models.TextField()),
                ('irregular', models.TextField(blank=True)),
                ('hold', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reports', to='clearances.hotlinehold')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='DoNotOperate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('phases', models.CharField(max_length=3)),
                ('name', models.CharField(max_length=120)),
                ('employer', models.CharField(max_length=120)),
                ('phone', models.CharField(max_length=32)),
                ('work', models.CharField(max_length=200)),
                ('state', models.CharField(choices=[('given', 'stands'), ('given_back', 'given back')], default='given', max_length=16)),
                ('given_at', models.DateTimeField()),
                ('given_back_at', models.DateTimeField(blank=True, null=True)),
                ('met_where', models.CharField(blank=True, max_length=120)),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
                ('given_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('met_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['given', 'given_back'])), name='do_not_operate_state_known'), models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='do_not_operate_phases'), models.CheckConstraint(condition=models.Q(models.Q(('name', ''), _negated=True), models.Q(('employer', ''), _negated=True), models.Q(('phone', ''), _negated=True)), name='do_not_operate_named'), models.CheckConstraint(condition=models.Q(models.Q(('given_back_at__isnull', True), ('met_by__isnull', True), ('state', 'given')), models.Q(('given_back_at__isnull', False), ('met_by__isnull', False), ('state', 'given_back'), models.Q(('met_where', ''), _negated=True)), _connector='OR'), name='do_not_operate_met')],
            },
        ),
        migrations.CreateModel(
            name='FieldClearance',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('phases', models.CharField(max_length=3)),
                ('crew', models.CharField(max_length=80)),
                ('work', models.CharField(max_length=200)),
                ('nodes', django.contrib.postgres.fields.ArrayField(base_field=models.TextField(), size=None)),
                ('inside_phases', models.CharField(max_length=3)),
                ('state', models.CharField(choices=[('on', 'on'), ('ended', 'ended')], default='on', max_length=16)),
                ('started_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('holder', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='field_clearances', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['on', 'ended'])), name='field_clearance_state_known'), models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='field_clearance_phases'), models.CheckConstraint(condition=models.Q(('nodes', []), _negated=True), name='field_clearance_somewhere'), models.CheckConstraint(condition=models.Q(models.Q(('ended_at__isnull', True), ('ended_by__isnull', True), ('state', 'on')), models.Q(('ended_at__isnull', False), ('ended_by', models.F('holder')), ('state', 'ended')), _connector='OR'), name='field_clearance_ended_by_holder'), models.UniqueConstraint(condition=models.Q(('state', 'on')), fields=('device',), name='one_field_clearance_a_device')],
            },
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['asked', 'given', 'accepted', 'given_back', 'withdrawn'])), name='hold_state_known'),
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='hold_phases'),
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(('nodes', []), _negated=True), name='hold_somewhere'),
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['asked', 'withdrawn']), models.Q(('given_at__isnull', False), ('given_by__isnull', False)), _connector='OR'), name='hold_given_by_someone'),
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['accepted', 'given_back']), _negated=True), models.Q(('accepted_at__isnull', False), models.Q(('accepted_words', ''), _negated=True)), _connector='OR'), name='hold_accepted_in_words'),
        ),
        migrations.AddConstraint(
            model_name='hotlinehold',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'given_back'), _negated=True), models.Q(('given_back_at__isnull', False), ('given_back_by', models.F('holder')), ('given_back_by__isnull', False)), _connector='OR'), name='hold_given_back_by_holder'),
        ),
        migrations.AddConstraint(
            model_name='holdreport',
            constraint=models.CheckConstraint(condition=models.Q(('said__in', ['reclose_off', 'reclose_on', 'tag_hung', 'tag_off']), ('said__in', ['stands_down', 'stays', 'yes', 'no']), _connector='OR'), name='hold_report_known'),
        ),
        migrations.RunSQL(SQL.read_text()),
        migrations.RunPython(fill),
    ]
