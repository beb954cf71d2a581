"""The proofs that broke under a clearance that was out."""

from pathlib import Path

import django.db.models.deletion
from django.db import migrations, models

SQL = Path(__file__).with_name("sql") / "0017_broken_proofs.sql"


class Migration(migrations.Migration):

    dependencies = [
        ('clearances', '0016_halves'),
    ]

    operations = [
        migrations.CreateModel(
            name='BrokenProof',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('over', models.JSONField(help_text='device and phase of each way, the same however it is told')),
                ('words', models.TextField()),
                ('revision', models.IntegerField(help_text='the network revision it was computed from')),
                ('raised_at', models.DateTimeField()),
                ('gone_at', models.DateTimeField(blank=True, null=True)),
                ('people_off', models.BooleanField(blank=True, help_text='what the holder said last', null=True)),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
                ('said_by', models.TextField(blank=True)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='broken_proofs', to='clearances.clearance')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('answered_at__isnull', True), ('people_off__isnull', True), ('said_by', '')), models.Q(('answered_at__isnull', False), ('people_off__isnull', False), models.Q(('said_by', ''), _negated=True)), _connector='OR'), name='broken_proof_answered_by_someone')],
            },
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
