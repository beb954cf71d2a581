"""A pandapower network as a network package.

One phase stands for three there: here everything has three, and every device moves as a gang. A switch is at
one end of a line or transformer there: here it is a device between the bus and a node of its own, on which
the branch ends.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandapower as pp

from circuits import checks, packagefile
from circuits.package import TABLE

Row = dict[str, Any]

# The connection of a vector group. There is no word for a zigzag; to the trace it is one more winding that
# couples its phases.
CONNECTIONS = {"YNd5": "wye_grounded-delta", "Dyn5": "delta-wye_grounded", "Yzn5": "wye-wye"}
# The CIGRE benchmark's transformers are given without a type, Dyn1 by their shift of 30 degrees.
NO_TYPE = "delta-wye_grounded"


def bus(number: int) -> str:
    return f"bus {number}"


def device(number: int) -> str:
    return f"switch {number}"


def check(net: pp.pandapowerNet, folder: Path) -> checks.Checked:
    """Write the network as files, as anybody's exporter would, and read and check them as an import does."""
    tables = _tables(net)
    packagefile.write(folder, packagefile.members(lambda name: tables.get(name, ())))
    return checks.check(packagefile.read(folder))


def _tables(net: pp.pandapowerNet) -> Mapping[str, list[Row]]:
    tables: dict[str, list[Row]] = {}

    def add(table: str, **values: Any) -> None:
        row = dict.fromkeys(column.name for column in TABLE[table].columns)
        tables.setdefault(table, []).append(row | values)

    kv = {bus(number): float(row.vn_kv) for number, row in net.bus.iterrows()}
    ends = {(row.et, int(row.element), int(row.bus)): int(number) for number, row in net.switch.iterrows()}

    def end(kind: str, element: int, at: int) -> str:
        """The bus at which a branch ends, or the node behind its switch there."""
        if (kind, element, at) not in ends:
            return bus(at)
        name = device(ends[kind, element, at])
        node = f"behind {name}"
        add("nodes", node_id=node, nominal_kv=kv[bus(at)], phases="ABC")
        add(
            "devices",
            device_id=name,
            from_node=bus(at),
            to_node=node,
            kind="gang_switch",
            phases="ABC",
            operation="gang",
            normal_position="closed" if net.switch.closed[ends[kind, element, at]] else "open",
        )
        return node

    add("circuits", circuit_id="all", name="all", nominal_kv=20, grounding="unigrounded_wye")
    for name, volts in kv.items():
        add("nodes", node_id=name, nominal_kv=volts, phases="ABC")
    for code, row in net.line.groupby("std_type").first().iterrows():
        add("conductors", code=code, ampacity_a=row.max_i_ka * 1000, r1=row.r_ohm_per_km, x1=row.x_ohm_per_km)
    for number, row in net.line.iterrows():
        add(
            "lines",
            line_id=f"line {number}",
            from_node=end("l", number, row.from_bus),
            to_node=end("l", number, row.to_bus),
            phases="ABC",
            conductor=row.std_type,
            length_m=row.length_km * 1000,
            placement="underground",
        )
    for number, row in net.trafo.iterrows():
        kind = net.std_types["trafo"][row.std_type]["vector_group"] if row.std_type else ""
        add(
            "transformers",
            transformer_id=f"transformer {number}",
            primary_node=end("t", number, row.hv_bus),
            secondary_node=end("t", number, row.lv_bus),
            phases="ABC",
            kva=row.sn_mva * 1000,
            connection=CONNECTIONS.get(kind, NO_TYPE),
        )
    for kind, table in (("station", net.ext_grid), ("inverter", net.sgen)):
        for number, row in table.iterrows():
            add(
                "sources",
                source_id=f"{kind} {number}",
                node_id=bus(row.bus),
                kind=kind,
                phases="ABC",
                means_of_disconnection="unknown",
            )
    return tables
