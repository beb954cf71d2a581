"""Hypothesis strategies: small networks with everything that joins or couples phases, in any state.

They hold whatever a checked package may hold (`circuits.electricity` refuses the rest), except that voltages
don't matter and that a machine's own rows, such as its disconnect, are left out.
"""

from functools import lru_cache

from hypothesis import strategies as st

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

SETS = ["A", "B", "C", "AB", "AC", "BC", "ABC"]

# By the number of primary phases. A bank has one unit a phase, an open-wye open-delta one has two.
ONE_PHASE = ["single", "wye_grounded-wye_grounded", "autotransformer"]
THREE_PHASE = [
    "wye_grounded-wye_grounded",
    "autotransformer",
    "wye_grounded-wye",
    "wye-wye",
    "wye-delta",
    "wye_grounded-delta",
    "delta-wye_grounded",
    "delta-delta",
]
TWO_PHASE = ["wye_grounded-wye_grounded", "phase_to_phase", "open_wye-open_delta", *THREE_PHASE]
CONNECTIONS = {1: ONE_PHASE, 2: TWO_PHASE, 3: THREE_PHASE}
# A winding of each of these goes from a phase to the same phase; the letters of the secondary are the same.
LIKE_PHASES = {"single", "wye_grounded-wye_grounded", "autotransformer"}


def parts(phases: str) -> list[str]:
    return [found for found in SETS if set(found) <= set(phases)]


@lru_cache(maxsize=1000)
def _any(*values: str) -> st.SearchStrategy[str]:
    """One of these. A strategy made anew for each draw is validated anew, a tenth of the time."""
    return st.sampled_from(values)


class _Maker:
    """Draws a network row by row; `phases` are those of each node so far."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        count = draw(st.integers(2, 6))
        self.phases = {f"n{i}": draw(_any("ABC", "ABC", *SETS)) for i in range(count)}
        self.transformers = [self._transformer(i) for i in range(draw(st.integers(0, 3)))]
        self.anywhere = _any(*self.phases)

    def how_many(self, most: int) -> range:
        return range(self.draw(st.integers(0, most)))

    def some(self, phases: str) -> str:
        return self.draw(_any(*parts(phases)))

    def _transformer(self, number: int) -> Transformer:
        """On any node so far, so that one may stand behind another; its secondary is mostly a new node."""
        primary = self.draw(_any(*self.phases))
        phases = self.some(self.phases[primary])
        connection = self.draw(_any(*CONNECTIONS[len(phases)]))
        fitting = [phases] if connection in LIKE_PHASES else parts(phases)
        paralleled = [node for node, has in self.phases.items() if has in fitting and node != primary]
        secondary = self.draw(_any(f"s{number}", f"s{number}", *paralleled))
        if secondary not in self.phases:
            self.phases[secondary] = self.draw(_any(*fitting))
        core = self.draw(st.booleans())
        return Transformer(f"t{number}", primary, secondary, phases, connection, common_core=core)

    def branches(self, most: int) -> list[tuple[str, str, str]]:
        """Between any two nodes that have a phase in common, secondaries among them (which makes ties)."""
        ends = [(self.draw(self.anywhere), self.draw(self.anywhere)) for _ in self.how_many(most)]
        shared = [(a, b, letters(set(self.phases[a]) & set(self.phases[b]))) for a, b in ends if a != b]
        return [(a, b, self.some(common)) for a, b, common in shared if common]

    def device(self, number: int, a: str, b: str, phases: str) -> Device:
        return Device(f"d{number}", a, b, phases, closed=self.draw(_any(phases, phases, "")))

    def ties(self) -> list[Device]:
        """Ties of unlike phases: one side's line tap was moved to another phase after the tie was made."""
        found = []
        for number in self.how_many(1):
            a, b = self.draw(self.anywhere), self.draw(self.anywhere)
            if a != b and len(self.phases[a]) == len(self.phases[b]):
                closed = self.draw(_any(self.phases[a], ""))
                found.append(Device(f"u{number}", a, b, self.phases[a], closed, kind="secondary_tie"))
        return found

    def source(self, number: int) -> Source:
        node = self.draw(self.anywhere)
        kind = self.draw(_any("station", "station", "generator", "inverter", "standby", "mobile"))
        means = self.draw(_any("visible", "interlocked", "none", "unknown"))
        return Source(f"g{number}", node, kind, self.some(self.phases[node]), means)

    def capacitor(self, number: int) -> Capacitor:
        node = self.draw(self.anywhere)
        connection = self.draw(_any("wye", "wye_grounded", "delta"))
        return Capacitor(f"c{number}", node, self.some(self.phases[node]), connection)

    def load(self, number: int) -> Load:
        node = self.draw(self.anywhere)
        phases = self.some(self.phases[node])
        return Load(f"k{number}", node, phases, self.draw(_any(*["wye", "delta"][: len(phases)])))

    def premises(self, number: int) -> Premises:
        first = self.draw(st.sampled_from(self.transformers))
        phases = self.draw(_any("", *parts(self.phases[first.secondary_node])))
        seconds = [
            other.id
            for other in self.transformers
            if other != first and set(phases) <= set(self.phases[other.secondary_node])
        ]
        second = self.draw(_any("", *seconds))
        transfer = self.draw(_any("", "open", "closed", "automatic"))
        return Premises(f"p{number}", first.id, second, phases, transfer=transfer)

    def network(self) -> Network:
        # Rows come in any order: a bank may stand before the one that feeds it.
        if self.draw(st.booleans()):
            self.transformers.reverse()
        return Network(
            lines=tuple(Line(f"l{i}", *ends) for i, ends in enumerate(self.branches(6))),
            regulators=tuple(Regulator(f"r{i}", *ends) for i, ends in enumerate(self.branches(1))),
            devices=(*(self.device(i, *ends) for i, ends in enumerate(self.branches(8))), *self.ties()),
            transformers=tuple(self.transformers),
            sources=tuple(self.source(i) for i in self.how_many(4)),
            capacitors=tuple(self.capacitor(i) for i in self.how_many(2)),
            loads=tuple(self.load(i) for i in self.how_many(2)),
            premises=tuple(self.premises(i) for i in self.how_many(4 if self.transformers else 0)),
            nodes=tuple(Node(node, phases) for node, phases in self.phases.items()),
        )


@st.composite
def networks(draw: st.DrawFn) -> Network:
    return _Maker(draw).network()


@st.composite
def states(draw: st.DrawFn) -> tuple[Network, dict[str, str]]:
    """A network and the phases of its devices that are open (or blocked)."""
    network = draw(networks())
    return network, {
        device.id: draw(_any("", device.phases, *parts(device.phases))) for device in network.devices
    }
