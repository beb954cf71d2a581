"""The database's half of rules that had none although it can see what they look at."""

from pathlib import Path

from django.db import migrations

SQL = Path(__file__).with_name("sql") / "0016_halves.sql"


class Migration(migrations.Migration):
    dependencies = [("clearances", "0015_holders")]
    operations = [migrations.RunSQL(SQL.read_text())]
