"""Random unbalanced feeders that a utility could have built, with their loads, for OpenDSS.

From a station over lines, single-phase devices and regulators to laterals of one, two and three phases; ties
between them; transformers of every connection, with secondaries, ties and customers of their own. What would
be a fault or a nonsense is left out, for there the voltages say nothing of the trace: no wire joins places
whose voltages differ, nothing to ground hangs on an ungrounded secondary.
"""

from collections.abc import Sequence
from random import Random
from typing import TypeVar

from circuits.core.network import (
    Capacitor,
    Device,
    Line,
    Load,
    Network,
    Node,
    Premises,
    Regulator,
    Source,
    Transformer,
)
from circuits.core.values import letters
from tests.against.opendss_circuit import UNGROUNDED_SECONDARIES, Model
from tests.core.made_networks import parts

# What may be hung on a place, by the number of its phases; an ungrounded place has no ground for the first.
GROUNDED = {
    1: ["single", "wye_grounded-wye_grounded", "autotransformer"],
    2: ["wye_grounded-wye_grounded", "autotransformer", "open_wye-open_delta"],
    3: [
        "wye_grounded-wye_grounded",
        "autotransformer",
        "wye_grounded-wye",
        "wye_grounded-delta",
    ],
}
ANYWHERE = {1: [], 2: ["phase_to_phase"], 3: ["wye-wye", "wye-delta", "delta-wye_grounded", "delta-delta"]}
KV = {"autotransformer": 4.16}


T = TypeVar("T")


class _Maker:
    """Draws a feeder place by place. `like` says of each what its voltages are: only places that are alike
    may be joined."""

    def __init__(self, chance: Random) -> None:
        self.chance = chance
        self.nodes = {"n0": Node("n0", "ABC", 12.47)}
        self.like = {"n0": "feeder"}
        self.ungrounded: set[str] = set()
        self.lines: list[Line] = []
        self.regulators: list[Regulator] = []
        self.devices: list[Device] = []
        self.transformers: list[Transformer] = []
        self.kw: dict[str, float] = {}

    def pick(self, choices: Sequence[T]) -> T:
        return self.chance.choice(choices)

    def times(self, least: int, most: int) -> range:
        return range(self.chance.randint(least, most))

    def some(self, phases: str) -> str:
        """All of them as often as fewer."""
        return self.pick([phases, self.pick(parts(phases))])

    def somewhere(self) -> str:
        return self.pick(list(self.nodes))

    def place(self, like: str, phases: str, kv: float, *, ungrounded: bool) -> str:
        name = f"n{len(self.nodes)}"
        self.nodes[name] = Node(name, phases, kv)
        self.like[name] = like
        if ungrounded:
            self.ungrounded.add(name)
        return name

    def join(self, start: str, end: str, phases: str) -> None:
        number = len(self.lines) + len(self.devices) + len(self.regulators)
        kind = self.pick(["line", "device", "device"] + ["regulator"] * (start not in self.ungrounded))
        if kind == "line":
            self.lines.append(Line(f"l{number}", start, end, phases))
        elif kind == "device":
            self.devices.append(Device(f"d{number}", start, end, phases, closed=phases))
        else:
            self.regulators.append(Regulator(f"r{number}", start, end, phases))

    def lateral(self) -> None:
        start = self.somewhere()
        node = self.nodes[start]
        phases = self.some(node.phases)
        end = self.place(self.like[start], phases, node.nominal_kv, ungrounded=start in self.ungrounded)
        self.join(start, end, phases)

    def tie(self) -> None:
        start = self.somewhere()
        ends = [
            (end, letters(set(node.phases) & set(self.nodes[start].phases)))
            for end, node in self.nodes.items()
            if end != start and self.like[end] == self.like[start]
        ]
        ends = [(end, common) for end, common in ends if common]
        if ends:
            end, common = self.pick(ends)
            self.join(start, end, self.some(common))

    def transformer(self) -> None:
        primary = self.somewhere()
        phases = self.some(self.nodes[primary].phases)
        choices = ANYWHERE[len(phases)]
        if primary not in self.ungrounded:
            choices = choices + GROUNDED[len(phases)]
        if not choices:
            return
        connection = self.pick(choices)
        through = "-" not in connection and connection != "phase_to_phase"
        through |= connection == "wye_grounded-wye_grounded"
        letters_there = phases if through else self.some(phases)
        # Windings from phase to phase keep the angle; others are alike only behind like ones.
        what = "through" if through else f"{connection} {phases if len(phases) < 3 else ''}"
        like = f"{self.like[primary]} > {what} {KV.get(connection, 0.208)}"
        twins = [
            name
            for name, node in self.nodes.items()
            if self.like[name] == like and node.phases == letters_there and name != primary
        ]
        secondary = self.pick(["new", *twins])
        if secondary == "new":
            secondary = self.place(
                like,
                letters_there,
                KV.get(connection, 0.208),
                ungrounded=connection in UNGROUNDED_SECONDARIES,
            )
        core = connection == "wye_grounded-wye_grounded" and len(phases) == 3 and self.pick([True, False])
        name = f"t{len(self.transformers)}"
        self.transformers.append(
            Transformer(name, primary, secondary, phases, connection, common_core=core, kva=100)
        )

    def size(self, name: str) -> str:
        self.kw[name] = self.pick([1.0, 5.0, 15.0])
        return name

    def load(self, number: int) -> Load | None:
        node = self.somewhere()
        phases = self.some(self.nodes[node].phases)
        ways = ["wye"] * (node not in self.ungrounded) + ["delta"] * (len(phases) > 1)
        return Load(self.size(f"k{number}"), node, phases, self.pick(ways)) if ways else None

    def capacitor(self, number: int) -> Capacitor:
        node = self.somewhere()
        phases = self.some(self.nodes[node].phases)
        ways = ["wye", "delta"] + ["wye_grounded"] * (node not in self.ungrounded)
        return Capacitor(self.size(f"c{number}"), node, phases, self.pick(ways))

    def premises(self, number: int) -> Premises:
        one = self.pick(self.transformers)
        node = one.secondary_node
        seconds = [
            other.id
            for other in self.transformers
            if other.secondary_node != node
            and self.like[other.secondary_node] == self.like[node]
            and self.nodes[other.secondary_node].phases == self.nodes[node].phases
        ]
        second = self.pick(["", *seconds])
        transfer = self.pick(["open", "closed", "automatic", ""]) if second else ""
        phases = self.pick(["", self.some(self.nodes[node].phases)])
        return Premises(self.size(f"p{number}"), one.id, second, phases, transfer=transfer)

    def machine(self, number: int) -> Source | None:
        node = self.somewhere()
        if node in self.ungrounded:
            return None
        kind = self.pick(["generator", "inverter", "standby"])
        means = self.pick(["interlocked", "visible", "unknown"])
        return Source(f"g{number}", node, kind, self.some(self.nodes[node].phases), means)

    def model(self) -> Model:
        for _ in self.times(3, 8):
            self.lateral()
        for _ in self.times(1, 4):
            self.transformer()
        for _ in self.times(0, 3):
            self.lateral()
        for _ in self.times(0, 2):
            self.tie()
        stations = [Source("station", "n0", "station", "ABC")]
        if self.pick([True, False]):
            node = self.pick([name for name, like in self.like.items() if like == "feeder"])
            stations.append(Source("other", node, "station", self.nodes[node].phases))
        machines = [self.machine(number) for number in self.times(0, 1)]
        premises = [self.premises(number) for number in (self.times(1, 5) if self.transformers else ())]
        network = Network(
            nodes=tuple(self.nodes.values()),
            lines=tuple(self.lines),
            regulators=tuple(self.regulators),
            devices=tuple(self.devices),
            transformers=tuple(self.transformers),
            capacitors=tuple(self.capacitor(number) for number in self.times(0, 2)),
            loads=tuple(filter(None, [self.load(number) for number in self.times(2, 5)])),
            premises=tuple(premises),
            sources=(*stations, *filter(None, machines)),
        )
        return Model(
            network,
            kw=self.kw,
            # An open transfer never makes both feeds. A machine behind a transfer switch never meets the
            # line, but an inverter has no such switch.
            joined=frozenset(one.id for one in premises if one.second_transformer and one.transfer != "open"),
            running=frozenset(
                one.id
                for one in machines
                if one and (one.kind == "inverter" or one.means_of_disconnection != "interlocked")
            ),
            ungrounded=frozenset(self.ungrounded),
        )


def feeder(chance: Random) -> tuple[Model, list[dict[str, str]]]:
    """A feeder, and some states of its devices: the phases that are open."""
    maker = _Maker(chance)
    model = maker.model()
    states = [
        {device.id: maker.pick(["", maker.some(device.phases)]) for device in model.network.devices}
        for _ in range(3)
    ]
    return model, states
