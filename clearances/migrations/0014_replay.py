"""The log carries what each entry changed, so that it can be replayed."""

from pathlib import Path

from django.db import migrations

SQL = Path(__file__).with_name("sql") / "0014_replay.sql"


class Migration(migrations.Migration):
    dependencies = [("clearances", "0013_roll_call")]
    operations = [migrations.RunSQL(SQL.read_text())]
