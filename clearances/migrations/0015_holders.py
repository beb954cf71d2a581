"""Who is in charge: at one site at a time, and a contractor's foreman told of it."""

from pathlib import Path
from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQL = Path(__file__).with_name("sql") / "0015_holders.sql"


def contractors(apps: Any, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Whoever is known already, by the employer on record."""
    person = apps.get_model("clearances", "Person")
    person.objects.exclude(employer=settings.UTILITY_NAME).update(contractor=True)


class Migration(migrations.Migration):

    dependencies = [
        ('clearances', '0014_replay'),
    ]

    operations = [
        migrations.AddField(
            model_name='person',
            name='contractor',
            field=models.BooleanField(default=False, help_text='the employer is another than the utility, or is not on record'),
        ),
        migrations.RunPython(contractors, migrations.RunPython.noop),
        migrations.CreateModel(
            name='InformationExchange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('with_whom', models.CharField(help_text='the person who spoke for the contractor', max_length=80)),
                ('told', models.CharField(help_text='what the utility told: lines, site, hazards', max_length=400)),
                ('heard', models.CharField(help_text="what the contractor told: the work's own hazards", max_length=400)),
                ('done_at', models.DateTimeField()),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='exchanges', to='clearances.clearance')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('with_whom', ''), _negated=True), models.Q(('told', ''), _negated=True), models.Q(('heard', ''), _negated=True)), name='exchange_in_full')],
            },
        ),
        migrations.RunSQL(SQL.read_text()),
    ]
