"""A tie is not closed on a network of which the board does not know how it was built, nor left for later when the
clearance is given."""

from pathlib import Path

from django.db import migrations

SQL = Path(__file__).with_name("sql") / "0019_ties.sql"


class Migration(migrations.Migration):
    dependencies = [("clearances", "0018_pick_ups")]

    operations = [migrations.RunSQL(SQL.read_text())]
