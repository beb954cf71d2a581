"""Whether rows that are fit one by one make a network that can exist, and one that is fed.

Rows come as (row number, values by column name), by table name.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from circuits.assemble import closed_phases, to_network
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.trace import Answer, trace
from circuits.core.values import JOINING
from circuits.packagefile import Fault

Rows = Mapping[str, Sequence[tuple[int, Mapping[str, Any]]]]

_PRIMARY_PHASES = {"single": 1, "phase_to_phase": 2, "open_wye-open_delta": 2}


def rows_that_do_not_fit(rows: Rows) -> Iterator[Fault]:
    """The faults of single rows against the rows that they refer to; broken references are passed over."""
    nodes = {values["node_id"]: values for _, values in rows["nodes"]}
    transformers = {values["transformer_id"]: values for _, values in rows["transformers"]}

    def missing(phases: str, node: str) -> str:
        return "".join(phase for phase in phases if node in nodes and phase not in nodes[node]["phases"])

    for table in ("lines", "devices", "regulators"):
        for number, row in rows[table]:
            yield from _branch(table, number, row, nodes)
    for number, row in rows["devices"]:
        position = row["normal_position"]
        if set(closed_phases(row["phases"], position)) - set(row["phases"]):
            expected = f"phases of the device, which has {row['phases']}"
            yield Fault("devices", number, "normal_position", position, expected)
    for number, row in rows["transformers"]:
        yield from _transformer(number, row, nodes)
    for table in ("capacitors", "loads", "sources"):
        for number, row in rows[table]:
            if lacking := missing(row["phases"], row["node_id"]):
                yield _phases(table, number, row, row["node_id"], lacking)
    for number, row in rows["loads"]:
        if row["connection"] == "delta" and len(row["phases"]) < 2:
            yield Fault("loads", number, "connection", "delta", "wye, since the load has one phase")
    for number, row in rows["premises"]:
        if row["second_transformer_id"] == row["transformer_id"]:
            expected = "another transformer than the first"
            yield Fault("premises", number, "second_transformer_id", row["transformer_id"], expected)
        for column in ("transformer_id", "second_transformer_id"):
            if row[column] in transformers:
                node = transformers[row[column]]["secondary_node"]
                if lacking := missing(row["phases"], node):
                    yield _phases("premises", number, row, node, lacking)


def _phases(table: str, number: int, row: Mapping[str, Any], node: str, lacking: str) -> Fault:
    expected = f"phases of node {node}, which has no {', '.join(lacking)}"
    return Fault(table, number, "phases", row["phases"], expected)


def _branch(table: str, number: int, row: Mapping[str, Any], nodes: Mapping[str, Any]) -> Iterator[Fault]:
    if row["from_node"] == row["to_node"]:
        yield Fault(table, number, "to_node", row["to_node"], "another node than from_node")
        return
    start, end = nodes.get(row["from_node"]), nodes.get(row["to_node"])
    if start is None or end is None:
        return
    if row.get("kind") == "secondary_tie" and start["phases"] != end["phases"]:
        if closed_phases(row["phases"], row["normal_position"]):
            expected = (
                f"a tie of like phases: {row['from_node']} derives from {start['phases']}, "
                f"{row['to_node']} from {end['phases']}; or one that normally stands open"
            )
            yield Fault(table, number, "phases", row["phases"], expected)
        return
    for node in (start, end):
        if lacking := [phase for phase in row["phases"] if phase not in node["phases"]]:
            yield _phases(table, number, row, node["node_id"], "".join(lacking))
    if start["nominal_kv"] != end["nominal_kv"]:
        expected = f"a node at {start['nominal_kv']} kV, as from_node; this one is at {end['nominal_kv']}"
        yield Fault(table, number, "to_node", row["to_node"], expected)


def _transformer(number: int, row: Mapping[str, Any], nodes: Mapping[str, Any]) -> Iterator[Fault]:
    primary, secondary = nodes.get(row["primary_node"]), nodes.get(row["secondary_node"])
    if row["primary_node"] == row["secondary_node"]:
        yield Fault(
            "transformers", number, "secondary_node", row["secondary_node"], "another node than primary_node"
        )
        return
    phases, connection = row["phases"], row["connection"]
    if len(phases) != _PRIMARY_PHASES.get(connection, len(phases)):
        expected = f"{_PRIMARY_PHASES[connection]} of A, B, C for {connection}"
        yield Fault("transformers", number, "phases", phases, expected)
    if primary is not None and (lacking := "".join(p for p in phases if p not in primary["phases"])):
        yield _phases("transformers", number, row, row["primary_node"], lacking)
    if secondary is not None:
        fits = (
            phases == secondary["phases"]
            if connection in JOINING
            else set(secondary["phases"]) <= set(phases)
        )
        if not fits:
            expected = f"a node whose phases are the primary's {phases}; it has {secondary['phases']}"
            yield Fault("transformers", number, "secondary_node", row["secondary_node"], expected)


def compiled(rows: Rows) -> Compiled:
    """The network of rows without any fault."""
    return compile_network(
        to_network({name: [values for _, values in found] for name, found in rows.items()})
    )


def what_is_not_fed(compiled: Compiled, rows: Rows) -> tuple[list[Fault], list[str]]:
    """Nodes that no source reaches with all devices in normal position, and sources that are paralleled
    then."""
    state = trace(compiled, normally_open(compiled.network))
    groups = {values["source_id"]: values["parallel_group"] for _, values in rows["sources"]}
    faults = []
    paralleled: dict[tuple[str, ...], str] = {}
    for number, node in rows["nodes"]:
        unfed = ""
        for phase in node["phases"]:
            if state.answer(node["node_id"], phase) not in (Answer.ENERGIZED, Answer.GENERATOR):
                unfed += phase
            sources = state.sources(node["node_id"], phase)
            if len(sources) > 1 and len({groups[one] or one for one in sources}) > 1:
                paralleled.setdefault(sources, node["node_id"])
        if unfed and not node["out_of_service"]:
            expected = f"a way from a source to {', '.join(unfed)} in normal position, or out_of_service true"
            faults.append(Fault("nodes", number, "node_id", node["node_id"], expected))
    warnings = [
        f"sources {', '.join(sources)} are joined in normal position, for example at node {node}"
        for sources, node in paralleled.items()
    ]
    return faults, warnings
