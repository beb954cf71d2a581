"""The log replayed: what its entries say they changed, in turn, against what stands in the tables.

A trigger (`z_changed`, on each table that the board stands on) keeps what a transaction changes; the log
takes it into the entry that tells of it, under its digest. So a row that was changed past the log shows, and
a log whose entries are gone does too.
"""

import json
from collections.abc import Iterator
from typing import Any

from django.db import connection

from .models import LogEntry

Standing = dict[tuple[str, str], dict[str, Any]]


def take_changes() -> list[tuple[str, str, dict[str, Any]]]:
    """What this transaction has changed so far and no entry tells of yet: kind, key, state; in its order."""
    with connection.cursor() as cursor:
        cursor.execute(
            "WITH taken AS (DELETE FROM clearances_change WHERE in_transaction = pg_current_xact_id()"
            " RETURNING id, kind, key, state::text) SELECT kind, key, state FROM taken ORDER BY id"
        )
        return [(kind, key, _json(state)) for kind, key, state in cursor.fetchall()]


def replayed() -> Standing:
    """What stands by the log. Cost: one reading of it."""
    standing: Standing = {}
    for changes in LogEntry.objects.order_by("number").values_list("data__changes", flat=True).iterator():
        for kind, key, state in changes or ():
            if state is None:  # a draft that was written again
                standing.pop((kind, key), None)
            else:
                standing[kind, key] = state
    return standing


def standing() -> Standing:
    """What stands in the tables, of the same columns. Cost: one reading of each of them."""
    found: Standing = {}
    with connection.cursor() as cursor:
        for table, kind, key, columns in _watched():
            picked = ", ".join(f"'{name}', to_jsonb(row) -> '{name}'" for name in columns)
            # Every name in it comes from the database's own catalogue.
            rows = f"SELECT {key}::text, jsonb_build_object({picked})::text FROM {table} AS row"  # noqa: S608
            cursor.execute(rows)
            found |= {(kind, name): _json(state) for name, state in cursor.fetchall()}
    return found


def differences() -> Iterator[str]:
    """Where the log and the tables do not say the same, in words; what was changed past the log first."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT kind, key FROM clearances_change ORDER BY id")
        for kind, key in dict.fromkeys(cursor.fetchall()):
            yield f"{kind} {key} was changed past the log"
    by_log, in_tables = replayed(), standing()
    for kind, key in sorted({*by_log, *in_tables}):
        told, stands = by_log.get((kind, key)), in_tables.get((kind, key))
        if told is None or stands is None:
            yield f"{kind} {key} is {'not in the log' if told is None else 'in the log alone'}"
        elif wrong := sorted(name for name in stands if told.get(name) != stands[name]):
            said = "; ".join(
                f"{name} {told.get(name)} by the log, {stands[name]} in the table" for name in wrong
            )
            yield f"{kind} {key}: {said}"


def _watched() -> list[tuple[str, str, str, list[str]]]:
    """Table, kind, key's column and columns of each trigger, as the database has them."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT tgrelid::regclass::text, encode(tgargs, 'escape') FROM pg_trigger"
            " WHERE tgname = 'z_changed' ORDER BY 1"
        )
        rows = cursor.fetchall()
    watched = []
    for table, arguments in rows:
        kind, key, columns, _ = arguments.split("\\000")
        watched.append((table, kind, key, columns.split(",")))
    return watched


def _json(text: str) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(text)
    return value
