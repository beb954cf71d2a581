"""The roll-call before a close."""

from pathlib import Path

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

SQL = Path(__file__).with_name("sql") / "0013_roll_call.sql"


class Migration(migrations.Migration):

    dependencies = [
        ('clearances', '0012_stages'),
    ]

    operations = [
        migrations.CreateModel(
            name='RollCall',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('why', models.TextField(help_text='what the close would do to this holder, in words')),
                ('asked_at', models.DateTimeField()),
                ('agrees', models.BooleanField(blank=True, null=True)),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
                ('said_by', models.TextField(blank=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='roll_calls', to='clearances.clearance')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='roll_calls', to='clearances.step')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('agrees__isnull', True), ('answered_at__isnull', True), ('said_by', '')), models.Q(('agrees__isnull', False), ('answered_at__isnull', False), models.Q(('said_by', ''), _negated=True)), _connector='OR'), name='roll_call_answered_by_someone')],
            },
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
