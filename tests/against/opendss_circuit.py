"""A network as an OpenDSS circuit, solved: what voltage really stands on each node-phase.

Everything is linear: constant-impedance loads, no capacitance of lines, no coupling between the wires of a
line (an open phase of a long line floats by both; induced voltage is a caution on a crew's sheet, never an
answer of the trace). Impedances are of usual size.

Banks are made of single-phase units, winding by winding, between the terminals that their name says. A
three-legged core couples its phases as a delta winding that is not brought out would (common practice). Units
have the losses, magnetizing current and leakage of the service transformers in the IEEE 8500-node feeder.

What hangs on no ground floats, and a solver may give floating wires any voltage. Every node-phase leaks 1 W
to ground at full voltage, and the terminals of an ungrounded secondary 100 W each: that stands for their
capacitance to ground and, being alike, holds their middle near ground. So a wire that hangs on nothing reads
zero.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations
from math import sqrt

import opendssdirect as dss

from circuits.core.network import Network, Premises, Transformer

Point = tuple[str, str]

ANGLE = {"A": 0, "B": -120, "C": 120}
NODE = {"A": 1, "B": 2, "C": 3, "ground": 0}
NEXT = {"A": "B", "B": "C", "C": "A"}
UNGROUNDED_SECONDARIES = {
    "wye_grounded-wye",
    "wye-wye",
    "wye-delta",
    "wye_grounded-delta",
    "delta-delta",
    "open_wye-open_delta",
}
THREE_LEGS_PERCENT = 60  # how loosely a core couples, as the zero-sequence impedance of such a bank


@dataclass(frozen=True)
class Model:
    """A network and what its rows don't say.

    `kw` is the size of the loads and customers, and the kvar of the capacitors, by id; `kvar` that of loads
    where it is not 0.4 of the kW. `joined` are the premises whose two feeds are both made, `running` the
    customers' machines that run. At `ungrounded` nodes customers have nothing between a phase and ground.
    """

    network: Network
    kw: Mapping[str, float]
    kvar: Mapping[str, float] = field(default_factory=dict)
    joined: frozenset[str] = frozenset()
    running: frozenset[str] = frozenset()
    ungrounded: frozenset[str] = frozenset()

    def voltages(self, opened: Mapping[str, str]) -> dict[Point, float]:
        """Volts to ground of every node-phase, per unit of its nominal ones."""
        dss.Text.Commands(list(_Deck(self, opened).lines()))
        if not dss.Solution.Converged():
            raise RuntimeError("OpenDSS has no solution")
        volts = dict(zip(dss.Circuit.AllNodeNames(), dss.Circuit.AllBusVMag(), strict=True))
        return {
            (node.id, phase): volts[f"n{number}.{NODE[phase]}"] / (node.nominal_kv * 1000 / sqrt(3))
            for number, node in enumerate(self.network.nodes)
            for phase in node.phases
        }


class _Deck:
    """The commands. A terminal is a phase, "ground", or the number of one that has no name in the network: a
    bank's neutral, the middle of an open delta."""

    def __init__(self, model: Model, opened: Mapping[str, str]) -> None:
        self.model = model
        self.network = model.network
        self.opened = opened
        self.bus = {node.id: f"n{number}" for number, node in enumerate(self.network.nodes)}
        self.kv = {node.id: node.nominal_kv for node in self.network.nodes}
        self.bank_of = {one.id: one for one in self.network.transformers}
        self.middle: dict[str, str] = {}
        self.made = 10

    def new(self, kind: str, **values: object) -> str:
        self.made += 1
        said = " ".join(f"{name}={value}" for name, value in values.items())
        return f"New {kind}.e{self.made} {said}"

    def nameless(self) -> str:
        self.made += 1
        return str(self.made)

    def at(self, node: str, *terminals: str) -> str:
        return ".".join([self.bus[node], *(str(NODE.get(one, one)) for one in terminals)])

    def lines(self) -> Iterator[str]:
        yield "Clear"
        yield "New Circuit.network bus1=elsewhere"
        yield "Set LoadModel=Admittance"
        yield from self.sources()
        yield from self.wires()
        for one in self.network.transformers:
            yield from self.transformer(one)
        yield from self.capacitors()
        for load in self.network.loads:
            yield from self.load(load.id, load.node, load.phases, delta=load.connection == "delta")
        for premises in self.network.premises:
            yield from self.customer(premises)
        for node in self.network.nodes:
            for phase in node.phases:
                yield self.leak(node.id, phase, watts=1)
        yield "Solve mode=direct"

    def sources(self) -> Iterator[str]:
        for source in self.network.sources:
            if source.is_station or source.id in self.model.running:
                # 1000 MVA of short circuit, or a machine that feeds 0.1 MVA into one.
                kv = self.kv[source.node]
                ohms = kv**2 / (1000 if source.is_station else 0.1)
                for phase in source.phases:
                    yield self.new(
                        "Vsource",
                        phases=1,
                        bus1=self.at(source.node, phase),
                        basekv=kv / sqrt(3),
                        angle=ANGLE[phase],
                        Z1=f"[0,{ohms}]",
                        Z0=f"[0,{ohms}]",
                    )

    def leak(self, node: str, terminal: str, *, watts: float) -> str:
        ohms = self.kv[node] ** 2 / 3 * 1e6 / watts
        return self.new("Reactor", phases=1, bus1=self.at(node, terminal), R=ohms, X=0)

    def wire(self, start: str, end: str, phases: str) -> Iterator[str]:
        """0.1 % on 1 MVA."""
        ohms = self.kv[start] ** 2 * 0.001
        impedance = {"r1": ohms, "x1": ohms, "r0": ohms, "x0": ohms, "c1": 0, "c0": 0}
        for phase in phases:
            ends = {"bus1": self.at(start, phase), "bus2": self.at(end, phase)}
            yield self.new("Line", phases=1, length=1, **ends, **impedance)

    def wires(self) -> Iterator[str]:
        for line in self.network.lines:
            yield from self.wire(line.from_node, line.to_node, line.phases)
        for device in self.network.devices:
            closed = "".join(phase for phase in device.phases if phase not in self.opened.get(device.id, ""))
            yield from self.wire(device.from_node, device.to_node, closed)
        for regulator in self.network.regulators:
            for phase in regulator.phases:
                ends = regulator.from_node, regulator.to_node
                yield self.unit(1000, *(self.winding(node, phase, "ground") for node in ends))

    def winding(self, node: str, start: str, end: str, *, delta: bool = False) -> tuple[str, float]:
        """Its two terminals at a node, and its kV: a delta has the whole, a wye goes to a neutral."""
        return self.at(node, start, end), self.kv[node] / (1 if delta else sqrt(3))

    def unit(self, kva: float, *windings: tuple[str, float], third_percent: float = 2) -> str:
        """A single-phase transformer; how loosely its third winding is coupled, in percent."""
        return self.new(
            "Transformer",
            phases=1,
            windings=len(windings),
            buses=[bus for bus, _ in windings],
            kvs=[kv for _, kv in windings],
            kvas=[kva] * len(windings),
            xhl=2,
            xht=third_percent,
            xlt=third_percent,
            ppm_antifloat=0,
            **{"%Rs": [0.6] * len(windings), "%imag": 0.5, "%noloadloss": 0.2},
        )

    def transformer(self, one: Transformer) -> Iterator[str]:
        kva = one.kva or 100
        p, s = one.primary_node, one.secondary_node
        if one.connection == "phase_to_phase":
            # 120/240 V: the two legs stand on both sides of a grounded middle.
            legs = {one.phases[0]: (one.phases[0], "ground"), one.phases[1]: ("ground", one.phases[1])}
            secondaries = [self.winding(s, *legs[leg]) for leg in self.network.node[s].phases]
            yield self.unit(kva, self.winding(p, *one.phases, delta=True), *secondaries)
        elif one.connection == "open_wye-open_delta":
            first, last = one.phases[0], one.phases[1]
            middle = self.middle[one.id] = self.nameless()
            for phase, ends in ((first, (first, middle)), (last, (middle, last))):
                yield self.unit(kva, self.winding(p, phase, "ground"), self.winding(s, *ends, delta=True))
            yield self.leak(s, middle, watts=100)
        else:
            yield from self.bank(one, kva)
        if one.connection in UNGROUNDED_SECONDARIES:
            # All its terminals, also one that the network says nothing of.
            for phase in one.phases:
                yield self.leak(s, phase, watts=100)

    def bank(self, one: Transformer, kva: float) -> Iterator[str]:
        """A unit a phase, connected on both sides as the name says."""
        sides = one.connection.split("-") if "-" in one.connection else ["wye_grounded"] * 2
        neutrals = self.nameless(), self.nameless()
        core = self.nameless()
        for phase in one.phases:
            windings = [
                {
                    "wye_grounded": self.winding(node, phase, "ground"),
                    "wye": self.winding(node, phase, neutral),
                    "delta": self.winding(node, phase, NEXT[phase], delta=True),
                }[side]
                for node, side, neutral in zip(
                    (one.primary_node, one.secondary_node), sides, neutrals, strict=True
                )
            ]
            if one.common_core:
                windings.append((f"core{core}.{NODE[phase]}.{NODE[NEXT[phase]]}", 1.0))
            yield self.unit(kva, *windings, third_percent=THREE_LEGS_PERCENT)
        if one.common_core:
            yield self.new("Reactor", phases=1, bus1=f"core{core}.1", R=1e3, X=0)

    def capacitors(self) -> Iterator[str]:
        for one in self.network.capacitors:
            kv, kvar = self.kv[one.node], self.model.kw[one.id] / len(one.phases)
            neutral = "ground" if one.connection == "wye_grounded" else self.nameless()
            if one.connection == "delta":
                ends = list(combinations(one.phases, 2))
            else:
                ends, kv = [(phase, neutral) for phase in one.phases], kv / sqrt(3)
            for a, b in ends:
                terminals = {"bus1": self.at(one.node, a), "bus2": self.at(one.node, b)}
                yield self.new("Capacitor", phases=1, kv=kv, kvar=kvar, **terminals)

    def load(self, name: str, node: str, terminals: Iterable[str], *, delta: bool) -> Iterator[str]:
        ends = list(combinations(terminals, 2)) if delta else [(phase, "ground") for phase in terminals]
        kw = self.model.kw[name]
        kvar = self.model.kvar.get(name, 0.4 * kw)
        for a, b in ends:
            bus, kv = self.winding(node, a, b, delta=delta)
            size = {"kw": kw / len(ends), "kvar": kvar / len(ends)}
            yield self.new("Load", phases=1, conn="delta", bus1=bus, kv=kv, model=2, **size)

    def customer(self, premises: Premises) -> Iterator[str]:
        """A motor over all its phases, or what one phase can have; a second feed when both are made."""
        one = self.bank_of[premises.transformer]
        node = one.secondary_node
        served = premises.phases or self.network.node[node].phases
        terminals = [*served, *([self.middle[one.id]] if one.id in self.middle else [])]
        if len(terminals) > 1:
            yield from self.load(premises.id, node, terminals, delta=True)
        elif node not in self.model.ungrounded:
            yield from self.load(premises.id, node, terminals, delta=False)
        if premises.id in self.model.joined:
            yield from self.wire(node, self.bank_of[premises.second_transformer].secondary_node, served)
