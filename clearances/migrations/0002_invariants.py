"""The invariants that the database holds, and the transition table frozen as it was when this migration was
written.
"""

from pathlib import Path
from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

SQL = Path(__file__).with_name("sql") / "0002_invariants.sql"

MOVES = {
    "job": ["->active", "active->finished", "active->cancelled"],
    "clearance": [
        "->asked",
        "asked->given",
        "asked->withdrawn",
        "given->asked",
        "given->accepted",
        "accepted->frozen",
        "frozen->accepted",
        "accepted->released",
        "frozen->released",
    ],
    "order": [
        "->draft",
        "draft->checked",
        "checked->draft",
        "checked->paused",
        "paused->checked",
        "checked->finished",
        "draft->withdrawn",
        "checked->withdrawn",
        "paused->withdrawn",
    ],
    "step": ["->waiting", "waiting->given", "given->reported", "given->waiting", "waiting->left_out"],
}


def fill(apps: Any, editor: BaseDatabaseSchemaEditor) -> None:
    rows = [(kind, *move.split("->")) for kind, moves in MOVES.items() for move in moves]
    with editor.connection.cursor() as cursor:
        cursor.executemany("INSERT INTO clearances_transition VALUES (%s, %s, %s)", rows)


class Migration(migrations.Migration):
    dependencies = [("clearances", "0001_board"), ("circuits", "0002_position_reports_append_only")]
    operations = [migrations.RunSQL(SQL.read_text()), migrations.RunPython(fill)]
