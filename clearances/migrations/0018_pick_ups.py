"""Load picked up by a tie: what an order moves besides its points, and who is out only for that."""

from pathlib import Path

import django.db.models.constraints
import django.db.models.deletion
from django.db import migrations, models

SQL = Path(__file__).with_name("sql") / "0018_pick_ups.sql"


class Migration(migrations.Migration):

    dependencies = [
        ('circuits', '0004_as_left'),
        ('clearances', '0017_broken_proofs'),
    ]

    operations = [
        migrations.CreateModel(
            name='PickUp',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('closes', models.BooleanField(help_text='closed, or else opened')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='step',
            name='step_operation_fits_half',
        ),
        migrations.RemoveConstraint(
            model_name='step',
            name='step_place_once',
        ),
        migrations.AddField(
            model_name='affectedpremises',
            name='briefly',
            field=models.BooleanField(db_default=False, help_text='out only while load is switched over to a tie and back'),
        ),
        migrations.AlterField(
            model_name='step',
            name='point',
            field=models.ForeignKey(blank=True, help_text='none where load is picked up or given back: such a step has no tag', null=True, on_delete=django.db.models.deletion.CASCADE, related_name='steps', to='clearances.isolationpoint'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('half', 'isolate'), ('operation__in', ['open', 'check_open']), ('point__isnull', False)), models.Q(('half', 'restore'), ('operation__in', ['remove_tag', 'close']), ('point__isnull', False)), models.Q(('operation__in', ['open', 'close']), ('point__isnull', True)), _connector='OR'), name='step_operation_fits_half'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.UniqueConstraint(deferrable=django.db.models.constraints.Deferrable['IMMEDIATE'], fields=('order', 'half', 'place'), name='step_place_once'),
        ),
        migrations.AddField(
            model_name='pickup',
            name='clearance',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='pick_ups', to='clearances.clearance'),
        ),
        migrations.AddField(
            model_name='pickup',
            name='device',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device'),
        ),
        migrations.AddConstraint(
            model_name='pickup',
            constraint=models.UniqueConstraint(fields=('clearance', 'device'), name='pick_up_device_once'),
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
