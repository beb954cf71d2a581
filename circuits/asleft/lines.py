"""What is set, strung, hung and taken off: switches, spans, devices, jumpers, links, normal positions."""

from decimal import Decimal

from .rows import Changes, RowChange, Rows, changed, ends, laid_over, new, there


def set_switch(
    rows: Rows,
    *,
    line: str,
    device: str,
    kind: str = "gang_switch",
    operation: str = "gang",
    normal_position: str = "open",
) -> Changes:
    """Part a span and fasten its two ends to a new switch.

    The line keeps its id up to the switch; what lies beyond is a line of its own. The ends are two new nodes,
    each counted to the pole on its side; where in the span the switch stands is not known, so each part has
    half of the length.
    """
    span = there(rows, "lines", line)
    fastened = (f"{device}-1", f"{device}-2")
    poles = [there(rows, "nodes", span[name]) for name in ("from_node", "to_node")]
    half = Decimal(span["length_m"]) / 2
    return (
        *(
            new(
                rows,
                "nodes",
                node_id=end,
                structure_id=pole["structure_id"],
                nominal_kv=pole["nominal_kv"],
                phases=span["phases"],
            )
            for end, pole in zip(fastened, poles, strict=True)
        ),
        changed(rows, "lines", line, to_node=fastened[0], length_m=half),
        new(
            rows,
            "lines",
            **{**span, "line_id": f"{line}-{device}", "from_node": fastened[1], "length_m": half},
        ),
        new(
            rows,
            "devices",
            device_id=device,
            circuit_id=span["circuit_id"],
            structure_id=poles[0]["structure_id"],
            from_node=fastened[0],
            to_node=fastened[1],
            kind=kind,
            phases=span["phases"],
            operation=operation,
            normal_position=normal_position,
            visible_break="true",
            recloses="false",
            remote="false",
        ),
    )


def add_span(
    rows: Rows,
    *,
    line: str,
    from_node: str,
    to_node: str,
    phases: str,
    conductor: str,
    length_m: str,
    placement: str = "overhead",
    neutral: str = "continuous",
) -> Changes:
    """A new span or cable between two nodes that are there; its circuit is that of a line at its start."""
    circuit = next(
        (one["circuit_id"] for one in rows["lines"].values() if from_node in ends(one)),
        None,
    )
    return (
        new(
            rows,
            "lines",
            line_id=line,
            circuit_id=circuit,
            from_node=from_node,
            to_node=to_node,
            phases=phases,
            conductor=conductor,
            length_m=length_m,
            placement=placement,
            neutral=neutral,
        ),
    )


def remove_span(rows: Rows, *, line: str) -> Changes:
    """A span or cable taken down; its poles stay."""
    return _taken(rows, "lines", line)


def add_device(
    rows: Rows,
    *,
    device: str,
    from_node: str,
    to_node: str,
    kind: str,
    phases: str,
    operation: str = "gang",
    normal_position: str = "closed",
    label: str = "",
) -> Changes:
    """A new device between two nodes that are there; it hangs where its first node is. What is not said of it
    is not known, and counts as the worse case."""
    start = there(rows, "nodes", from_node)
    return (
        new(
            rows,
            "devices",
            device_id=device,
            structure_id=start["structure_id"],
            from_node=from_node,
            to_node=to_node,
            kind=kind,
            phases=phases,
            operation=operation,
            normal_position=normal_position,
            label=label,
        ),
    )


def temporary_jumper(
    rows: Rows, *, device: str, from_node: str, to_node: str, phases: str, owner: str
) -> Changes:
    """A jumper that joins two nodes until its owner takes it off again (the owner and the day are the change
    set's to keep watch over)."""
    return add_device(
        rows,
        device=device,
        from_node=from_node,
        to_node=to_node,
        kind="jumper",
        phases=phases,
        operation="single",
        label=f"temporary jumper of {owner}",
    )


def remove_device(rows: Rows, *, device: str) -> Changes:
    """A device taken off: its nodes are parted from then on."""
    return _taken(rows, "devices", device)


def change_link(rows: Rows, *, device: str, link: str) -> Changes:
    """Another link in a cutout."""
    return (changed(rows, "devices", device, link=link),)


def normal_position(rows: Rows, *, device: str, position: str) -> Changes:
    """A new normal position: "closed", "open" or the letters of the phases that stand closed. It moves
    nothing: a device stands where it was reported."""
    return (changed(rows, "devices", device, normal_position=position),)


def _taken(rows: Rows, table: str, ident: str) -> Changes:
    """A branch taken away, with those of its nodes on which nothing is left."""
    gone = RowChange(table, ident, there(rows, table, ident), None)
    rest = laid_over(rows, [gone])
    used = {
        end for name in ("lines", "devices", "regulators") for row in rest[name].values() for end in ends(row)
    }
    used |= {row[end] for row in rest["transformers"].values() for end in ("primary_node", "secondary_node")}
    used |= {row["node_id"] for name in ("loads", "capacitors", "sources") for row in rest[name].values()}
    bare = [end for end in ends(rows[table][ident]) if end not in used]
    return (gone, *(RowChange("nodes", node, there(rows, "nodes", node), None) for node in bare))
