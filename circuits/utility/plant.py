"""Poles, spans, devices and transformers of the invented utility: what is built where, and what it is called.

Numbers run on through all poles and pads, and what stands on one has its number: cutout C-1208 is on pole
P-1208. So C-1208, C-1280 and C-1208S look alike, as at any utility. A pole set later between two others has
its neighbour's number with an A.
"""

import math
from dataclasses import dataclass, replace
from random import Random

from circuits.utility.ground import Point, Street, earth
from circuits.utility.rows import Rows

KV, PHASE_KV = 12.47, 7.2
# The last numbers of circuits/demo: poles, gang switches, reclosers.
_LAST = {"P": 300, "N": 7, "R": 31}

# What every kind has (common practice on a 15 kV system).
_KINDS: dict[str, dict[str, object]] = {
    "breaker": {"operation": "gang", "rating_a": 600, "load_break_a": 600, "interrupting_ka": 12.5},
    "recloser": {"operation": "gang", "rating_a": 400, "load_break_a": 400, "interrupting_ka": 12.5},
    "sectionalizer": {"operation": "single", "visible_break": True, "rating_a": 200},
    "cutout": {"operation": "single", "visible_break": True, "rating_a": 100, "interrupting_ka": 10},
    "disconnect": {"operation": "single", "visible_break": True, "rating_a": 600},
    "gang_switch": {"operation": "gang", "visible_break": True, "rating_a": 600, "load_break_a": 600},
    "enclosed_switch": {"operation": "gang", "rating_a": 600, "load_break_a": 600},
    "elbow": {"operation": "single", "visible_break": True, "rating_a": 200, "load_break_a": 200},
    "secondary_tie": {"operation": "single", "visible_break": True},
    "service_disconnect": {
        "operation": "gang",
        "visible_break": True,
        "rating_a": 100,
        "public_access": True,
    },
    "transfer_switch": {"operation": "gang", "rating_a": 200, "public_access": True},
}
_FALSE = dict.fromkeys(("visible_break", "recloses", "remote", "public_access"), False)
_BY_ITSELF = {"recloses": True, "remote": True}

# Size of a unit in kVA -> its link at 7.2 kV; a K link carries 1.5 times its number (from memory, C37.42).
_LINK = {10: "2K", 15: "2K", 25: "3K", 37.5: "6K", 50: "8K", 75: "10K", 100: "15K"}


@dataclass(frozen=True, slots=True)
class Spot:
    """A node on a pole or pad, where a wire may begin. `heading` is the way the wire came, of length 1."""

    number: str
    structure: str
    node: str
    phases: str
    at: Point
    circuit: str
    street: Street
    heading: Point = (1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Unit:
    """A transformer or bank; `spot` is its secondary."""

    id: str
    spot: Spot
    kva: float
    kv: float


class Plant:
    """Writes what is built, and counts its numbers."""

    def __init__(self, rows: Rows, rng: Random) -> None:
        self.rows, self.rng = rows, rng
        self._last = dict(_LAST)
        self._lettered: set[str] = set()

    def next(self, series: str) -> int:
        """The next number of poles and pads (P), gang switches (N) or reclosers (R)."""
        self._last[series] += 1
        return self._last[series]

    def structure(self, name: str, kind: str, label: str, at: Point, street: Street) -> None:
        latitude, longitude = earth(at)
        self.rows.add(
            "structures",
            structure_id=name, kind=kind, label=label, latitude=latitude, longitude=longitude,
            street=street.name,
        )  # fmt: skip

    def node(self, spot: Spot, name: str, phases: str = "", *, kv: float = KV, dead: bool = False) -> Spot:
        """Another node on the same pole or pad; `dead` is one that is de-energized on purpose."""
        phases, out_of_service = phases or spot.phases, dead or None
        self.rows.add(
            "nodes",
            node_id=name, structure_id=spot.structure, nominal_kv=kv, phases=phases,
            out_of_service=out_of_service,
        )  # fmt: skip
        return replace(spot, node=name, phases=phases)

    def pole(self, before: Spot, at: Point, *, phases: str = "", kind: str = "pole", street: Street) -> Spot:
        """The next pole (or pad, cabinet) with its first node, and no wire yet."""
        number = f"{before.number}A"
        if kind == "pole" and before.number.isdigit() and self.rng.random() < 1 / 80:
            if number in self._lettered:
                number = str(self.next("P"))
            self._lettered.add(number)
        else:
            number = str(self.next("P"))
        name = f"{'P' if kind == 'pole' else 'U'}-{number}"
        self.structure(name, kind, name, at, street)
        east, north = at[0] - before.at[0], at[1] - before.at[1]
        far = math.hypot(east, north)
        heading = east / far, north / far
        spot = replace(before, number=number, structure=name, at=at, street=street, heading=heading)
        return self.node(spot, name, phases)

    def wire(self, start: Spot, end: Spot, conductor: str, *, cable: bool = False) -> None:
        """A span or cable between two nodes, on the phases that both have."""
        self.rows.add(
            "lines",
            line_id=f"L-{start.number}-{end.number}", circuit_id=start.circuit,
            from_node=start.node, to_node=end.node,
            phases="".join(phase for phase in start.phases if phase in end.phases),
            conductor=conductor, length_m=f"{max(math.dist(start.at, end.at), 1):.1f}",
            placement="underground" if cable else "overhead", neutral="continuous",
        )  # fmt: skip

    def span(self, before: Spot, at: Point, conductor: str, street: Street) -> Spot:
        """The next pole and the wire to it."""
        end = self.pole(before, at, street=street)
        self.wire(before, end, conductor)
        return end

    def device(
        self, spot: Spot, name: str, kind: str, to: Spot, *, position: str = "closed", **cells: object
    ) -> Spot:
        """A device between two nodes, on the phases of the second, which is given back."""
        cells = _FALSE | (_BY_ITSELF if kind in ("breaker", "recloser") else {}) | _KINDS[kind] | cells
        self.rows.add(
            "devices",
            device_id=name, circuit_id=spot.circuit, structure_id=to.structure, from_node=spot.node,
            to_node=to.node, kind=kind, phases=to.phases, normal_position=position, **cells,
        )  # fmt: skip
        return to

    def load(self, secondary: Spot, kw: float) -> None:
        """What the customers on a secondary draw together at most, at a power factor of 0.95."""
        self.rows.add(
            "loads",
            load_id=f"LD-{secondary.number}", node_id=secondary.node, phases=secondary.phases,
            connection="wye", kw=f"{kw:.1f}", kvar=f"{kw * 0.329:.1f}", model="power",
        )  # fmt: skip

    def tap(self, spot: Spot, phases: str, suffix: str, link: str, label: str) -> Spot:
        """The cutouts of a tap; `suffix` tells two taps of one pole apart."""
        beyond = self.node(spot, f"P-{spot.number}{suffix.lower() or 'b'}", phases)
        return self.device(spot, f"C-{spot.number}{suffix}", "cutout", beyond, link=link, label=label)

    def transformer(
        self, spot: Spot, phases: str, unit_kva: float, connection: str = "single", kv: float = 0.24
    ) -> Unit:
        """A unit, or a bank of equal units, behind cutouts of its own. On a pad it has neither cutouts nor
        tanks: its phases share a core."""
        name, on_pole = f"T-{spot.number}", spot.structure.startswith("P-")
        units = 1 if connection == "phase_to_phase" else len(phases)
        primary = spot
        if on_pole:
            primary = self.node(spot, f"P-{spot.number}t", phases)
            label = f"cutout of {name}"
            self.device(spot, f"F-{spot.number}", "cutout", primary, link=_LINK[unit_kva], label=label)
        secondary = self.node(spot, f"{name}s", phases, kv=kv)
        self.rows.add(
            "transformers",
            transformer_id=name, structure_id=spot.structure, primary_node=primary.node,
            secondary_node=secondary.node, phases=phases, kva=f"{unit_kva * units:g}", connection=connection,
            unit_kva=" ".join([f"{unit_kva:g}"] * units) if on_pole and units > 1 else None,
            common_core=not on_pole and units > 1,
            primary_kv=PHASE_KV if connection == "single" else KV, secondary_kv=kv, r_pct="1.2", x_pct="1.9",
        )  # fmt: skip
        return Unit(name, secondary, unit_kva * units, kv)
