"""A tie that has another clearance's load on it is not ordered open."""

from pathlib import Path

from django.db import migrations

SQL = Path(__file__).with_name("sql") / "0020_tie_in_use.sql"


class Migration(migrations.Migration):
    dependencies = [("clearances", "0019_ties")]

    operations = [migrations.RunSQL(SQL.read_text())]
