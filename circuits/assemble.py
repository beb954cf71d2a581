"""Rows of the tables -> the plain network of the reasoning. "Not known" becomes the worse case here."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from circuits.core.network import (
    Capacitor,
    Circuit,
    Device,
    Line,
    Load,
    Network,
    Node,
    Premises,
    Regulator,
    Source,
    Structure,
    Transformer,
)

Row = Mapping[str, Any]


def to_network(tables: Mapping[str, Iterable[Row]], revision: int = 0) -> Network:
    """The network of parsed rows: table name -> rows by column name, as `circuits.package` names them.

    Texts are "" and quantities and truth values None where a cell is empty. The rows must have passed
    `circuits.checks`. Cost: one pass.
    """

    def rows(table: str) -> Iterable[Row]:
        return tables.get(table, ())

    return Network(
        revision=revision,
        circuits=tuple(Circuit(row["circuit_id"], row["name"]) for row in rows("circuits")),
        structures=tuple(
            Structure(row["structure_id"], row["label"], row["street"], row["kind"])
            for row in rows("structures")
        ),
        nodes=tuple(
            Node(row["node_id"], row["phases"], float(row["nominal_kv"]), row["structure_id"] or "")
            for row in rows("nodes")
        ),
        lines=tuple(
            Line(
                row["line_id"],
                row["from_node"],
                row["to_node"],
                row["phases"],
                float(row["length_m"]),
                row["circuit_id"] or "",
            )
            for row in rows("lines")
        ),
        devices=tuple(_device(row) for row in rows("devices")),
        transformers=tuple(_transformer(row) for row in rows("transformers")),
        regulators=tuple(
            Regulator(row["regulator_id"], row["from_node"], row["to_node"], row["phases"])
            for row in rows("regulators")
        ),
        capacitors=tuple(
            Capacitor(row["capacitor_id"], row["node_id"], row["phases"], row["connection"])
            for row in rows("capacitors")
        ),
        loads=tuple(
            Load(row["load_id"], row["node_id"], row["phases"], row["connection"]) for row in rows("loads")
        ),
        sources=tuple(
            Source(
                row["source_id"],
                row["node_id"],
                row["kind"],
                row["phases"],
                row["means_of_disconnection"],
                row["device_id"] or "",
                row["premises_id"] or "",
                row["parallel_group"],
            )
            for row in rows("sources")
        ),
        premises=tuple(
            Premises(
                row["premises_id"],
                row["transformer_id"],
                row["second_transformer_id"] or "",
                row["phases"],
                row["care"],
                row["transfer"],
            )
            for row in rows("premises")
        ),
    )


def closed_phases(phases: str, position: str) -> str:
    """The letters that stand closed in a position written as "closed", "open" or letters.

    >>> closed_phases("ABC", "closed"), closed_phases("ABC", "open"), closed_phases("ABC", "AC")
    ('ABC', '', 'AC')
    """
    return {"closed": phases, "open": ""}.get(position, position)


def _device(row: Row) -> Device:
    return Device(
        id=row["device_id"],
        from_node=row["from_node"],
        to_node=row["to_node"],
        phases=row["phases"],
        closed=closed_phases(row["phases"], row["normal_position"]),
        kind=row["kind"],
        operation=row["operation"],
        circuit=row["circuit_id"] or "",
        structure=row["structure_id"] or "",
        visible_break=row["visible_break"] is True,
        recloses=row["recloses"] is not False,
        remote=row["remote"] is not False,
        label=row["label"],
    )


def _transformer(row: Row) -> Transformer:
    # Tanks on record are separate cores; else a bank whose core is not known is taken to have a common one.
    tanks = len(row["unit_kva"].split())
    kva: Decimal = row["kva"]
    return Transformer(
        id=row["transformer_id"],
        primary_node=row["primary_node"],
        secondary_node=row["secondary_node"],
        phases=row["phases"],
        connection=row["connection"],
        common_core=row["common_core"] is True or (row["common_core"] is None and tanks < 2),
        structure=row["structure_id"] or "",
        kva=float(kva),
        label=row["label"],
    )
