"""A made-up utility of a size that clocks can be held to: 250,000 node-phases behind 6,000 devices."""

from collections.abc import Iterator

from circuits.core.network import Device, Line, Load, Network, Node, Premises, Source, Transformer

FEEDERS = 12
PARTS = 5  # of a feeder's main, with a recloser before each
LATERALS = 12  # at each part
POLES = 48  # of a part of a main, and of a lateral
UNITS = 7  # transformers on a lateral, each behind its own cutout
SERVICES = 6  # customers at a transformer


def big(feeders: int = FEEDERS) -> Network:
    """Feeders with reclosers, laterals of one phase (every sixth of three, with a bank at its end) behind
    cutouts, transformers behind their own, customers on secondaries, ties between neighbouring feeders."""
    network = _Builder()
    for feeder in range(feeders):
        network.feeder(f"F{feeder}")
    for feeder in range(feeders):
        near, far = f"F{feeder}", f"F{(feeder + 1) % feeders}"
        network.device(f"tie-{near}", f"{near}-4-{POLES}", f"{far}-4-{POLES // 2}", "ABC", closed="")
    return network.built()


class _Builder:
    def __init__(self) -> None:
        self.nodes: list[Node] = [Node("bus", "ABC")]
        self.lines: list[Line] = []
        self.devices: list[Device] = []
        self.transformers: list[Transformer] = []
        self.premises: list[Premises] = []
        self.loads: list[Load] = []

    def built(self) -> Network:
        return Network(
            nodes=tuple(self.nodes),
            lines=tuple(self.lines),
            devices=tuple(self.devices),
            transformers=tuple(self.transformers),
            premises=tuple(self.premises),
            loads=tuple(self.loads),
            sources=(Source("ST", "bus", "station", "ABC"),),
        )

    def device(self, name: str, start: str, end: str, phases: str, closed: str | None = None) -> None:
        closed = phases if closed is None else closed
        self.devices.append(Device(name, start, end, phases, closed))

    def run(self, name: str, start: str, phases: str, poles: int) -> Iterator[str]:
        """A run of line from a node: its nodes."""
        for pole in range(1, poles + 1):
            node = f"{name}-{pole}"
            self.nodes.append(Node(node, phases))
            self.lines.append(Line(f"l-{node}", start, node, phases))
            yield (start := node)

    def feeder(self, feeder: str) -> None:
        start = "bus"
        for part in range(PARTS):
            name = f"{feeder}-{part}"
            self.nodes.append(Node(f"{name}-0", "ABC"))
            self.device(f"R-{name}", start, f"{name}-0", "ABC")
            poles = list(self.run(name, f"{name}-0", "ABC", POLES))
            start = poles[-1]
            for lateral in range(LATERALS):
                at = poles[(lateral + 1) * POLES // LATERALS - 1]
                self.lateral(f"{name}.{lateral}", at, "ABC" if lateral % 6 == 5 else "ABC"[lateral % 3])

    def lateral(self, name: str, at: str, phases: str) -> None:
        self.nodes.append(Node(f"{name}-0", phases))
        self.device(f"C-{name}", at, f"{name}-0", phases)
        poles = list(self.run(name, f"{name}-0", phases, POLES))
        for unit in range(UNITS):
            self.unit(f"{name}.{unit}", poles[(unit + 1) * POLES // UNITS - 1], phases[unit % len(phases)])
        if len(phases) > 1:
            self.nodes += [Node(f"t-{name}", phases), Node(f"s-{name}", phases, 0.48)]
            self.device(f"F-{name}", poles[-1], f"t-{name}", phases)
            self.transformers.append(Transformer(f"B-{name}", f"t-{name}", f"s-{name}", phases, "wye-delta"))
            self.premises.append(Premises(f"pump-{name}", f"B-{name}"))
            self.loads.append(Load(f"motor-{name}", f"s-{name}", phases, "delta"))

    def unit(self, name: str, at: str, phase: str) -> None:
        self.nodes += [Node(f"t-{name}", phase), Node(f"s-{name}", phase, 0.24)]
        self.device(f"F-{name}", at, f"t-{name}", phase)
        self.transformers.append(Transformer(f"T-{name}", f"t-{name}", f"s-{name}", phase, "single"))
        for service in range(SERVICES):
            for node in self.run(f"v-{name}.{service}", f"s-{name}", phase, 6):
                self.premises.append(Premises(f"p-{node}", f"T-{name}")) if node.endswith("-6") else None
