"""Many rows into a table at once: new ones by PostgreSQL's COPY, changed ones by INSERT ... ON CONFLICT.

Every constraint, foreign key and trigger of the table bites in both. New rows go straight into their table:
a temporary table to copy them into first would need the right to make one, and whoever may do that can hide a
table from the triggers that hold the board's rules (PostgreSQL looks into `pg_temp` before `public`).
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

import psycopg
from django.db import connection, models
from psycopg import sql

from circuits.models import Contact
from circuits.package import Table
from circuits.tables import MODELS

# Rows of one INSERT.
_BATCH = 5000


def copy_in(table: Table, rows: Iterable[Mapping[str, Any]], revision: int) -> None:
    """Add rows that the table has never had, with the revision that adds them. Streams; raises IntegrityError
    as any other writing does."""
    model: type[models.Model] = MODELS.get(table.name, Contact)
    names = [column.name for column in table.columns]
    fields = [table.field(column) for column in table.columns]
    added_in = [revision] if table.name in MODELS else []
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(model._meta.db_table),
        sql.SQL(", ").join(map(sql.Identifier, [*fields, "added_in"] if added_in else fields)),
    )
    with connection.cursor() as cursor, connection.wrap_database_errors:
        psycopg_cursor = cast("psycopg.Cursor[Any]", cursor.cursor)
        with psycopg_cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row([row[name] for name in names] + added_in)


def write_over(table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows in the place of those that have their ids; retired ones are back in the network with it."""
    fields = {column.name: table.field(column) for column in table.columns}
    target = sql.Identifier(MODELS[table.name]._meta.db_table)
    statement = sql.SQL(
        "INSERT INTO {target} ({fields}) SELECT {fields} FROM json_populate_recordset(NULL::{target}, %s)"
        " ON CONFLICT (id) DO UPDATE SET retired_in_id = NULL, {changes}"
    ).format(
        target=target,
        fields=sql.SQL(", ").join(map(sql.Identifier, fields.values())),
        changes=sql.SQL(", ").join(
            sql.SQL("{0} = EXCLUDED.{0}").format(sql.Identifier(field))
            for field in fields.values()
            if field != "id"
        ),
    )
    with connection.cursor() as cursor:
        for start in range(0, len(rows), _BATCH):
            values = [
                {field: row[name] for name, field in fields.items()} for row in rows[start : start + _BATCH]
            ]
            cursor.execute(statement, [json.dumps(values, default=str)])  # a Decimal as it is written
