"""The network as a dated story: a change as it was built laid into it, and how its rows stood at a revision.

Every table's trigger keeps the version of a row that a revision changes (`RowVersion`); a new row says in
which revision it was added, a retired one which left it out. So an import of a new network writes nothing
more than its rows.
"""

from collections.abc import Iterator
from typing import Any

from django.db import connection, transaction
from django.utils import timezone
from psycopg import sql

from circuits import bulk
from circuits.asleft import Changes
from circuits.models import NetworkRevision
from circuits.package import TABLE, TABLES
from circuits.tables import MODELS


@transaction.atomic
def lay_in(changes: Changes, *, note: str, by: str) -> NetworkRevision:
    """Make changes that were proved part of the network in use, as a revision of its own.

    The caller holds the network alone (`snapshot.hold`), and has proved the changes on it.
    """
    revision = NetworkRevision.objects.create(imported_at=timezone.now(), note=note, imported_by=by)
    for table in TABLES:
        here = [change for change in changes if change.table == table.name]
        if not here:
            continue
        ever = set(
            MODELS[table.name].ever.filter(pk__in=[one.id for one in here]).values_list("pk", flat=True)
        )
        after = [change.after for change in here if change.after is not None]
        bulk.copy_in(table, [row for row in after if row[table.key[0]] not in ever], revision.pk)
        bulk.write_over(table, [row for row in after if row[table.key[0]] in ever])
        gone = [change.id for change in here if change.after is None]
        MODELS[table.name].objects.filter(pk__in=gone).update(retired_in=revision)
    return revision


def rows_at(name: str, revision: int) -> Iterator[dict[str, Any]]:
    """The rows of a table as they stood in a revision, by column name. Cost: one reading of the table."""
    table = TABLE[name]
    target = MODELS[name]._meta.db_table
    fields = [table.field(column) for column in table.columns]
    statement = sql.SQL(
        "WITH old AS (SELECT DISTINCT ON (row_id) row_id, row FROM circuits_rowversion"
        ' WHERE "table" = {name} AND until > {revision} ORDER BY row_id, until, id)'
        " SELECT {fields} FROM ("
        "SELECT * FROM {target} now WHERE NOT EXISTS (SELECT FROM old WHERE old.row_id = now.id)"
        " UNION ALL SELECT was.* FROM old, jsonb_populate_record(NULL::{target}, old.row) was) every"
        " WHERE COALESCE(added_in, 0) <= {revision}"
        " AND (retired_in_id IS NULL OR retired_in_id > {revision})"
    ).format(
        name=target,
        revision=revision,
        target=sql.Identifier(target),
        fields=sql.SQL(", ").join(map(sql.Identifier, fields)),
    )
    columns = [column.name for column in table.columns]
    with connection.cursor() as cursor:
        cursor.execute(statement)
        for values in cursor.fetchall():
            yield dict(zip(columns, values, strict=True))
