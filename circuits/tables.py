"""Which model keeps the rows of which table, and the current rows by the package's column names."""

from collections.abc import Iterator
from typing import Any

from circuits.models import (
    Capacitor,
    Circuit,
    Conductor,
    Contact,
    Device,
    Line,
    Load,
    Node,
    Premises,
    Regulator,
    Source,
    Structure,
    Transformer,
)
from circuits.models.base import Row
from circuits.package import TABLE

# All tables with an id of their own.
MODELS: dict[str, type[Row]] = {
    "circuits": Circuit,
    "structures": Structure,
    "nodes": Node,
    "conductors": Conductor,
    "lines": Line,
    "devices": Device,
    "transformers": Transformer,
    "regulators": Regulator,
    "capacitors": Capacitor,
    "loads": Load,
    "sources": Source,
    "premises": Premises,
}


def current_rows(name: str) -> Iterator[dict[str, Any]]:
    """The rows of a table as the network is now: column name -> value, NULL references as None."""
    table = TABLE[name]
    columns = [column.name for column in table.columns]
    fields = [table.field(column) for column in table.columns]
    current = MODELS[name].objects if name in MODELS else Contact.objects
    for values in current.values_list(*fields).iterator(chunk_size=5000):
        yield dict(zip(columns, values, strict=True))


def rows_by_id() -> dict[str, dict[str, dict[str, Any]]]:
    """The network as it is now, but for contacts: table -> id -> row. Cost: one reading of it."""
    return {
        name: {row[TABLE[name].key[0]]: row for row in current_rows(name)} for name in TABLE if name in MODELS
    }
