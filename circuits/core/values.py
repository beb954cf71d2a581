"""A network as plain values: what a utility's package says, in the shape that the reasoning needs.

Phases are the letters A, B, C; a set of them is a string in that order, such as "AC". A secondary node
carries the letters of the primary phases that it derives from. What a package does not know has become the
worse case by the time it is here (`circuits.snapshot` does that).
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

PHASES = "ABC"

# Connections whose windings join each phase to itself and nothing else, when each phase has a core of its
# own.
JOINING = frozenset({"single", "wye_grounded-wye_grounded", "autotransformer"})


@dataclass(frozen=True, slots=True)
class Circuit:
    """A feeder and what people call it."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Structure:
    """A pole, pad, vault, cabinet or station; `label` is the number that can be read on it."""

    id: str
    label: str = ""
    street: str = ""
    kind: str = "pole"


@dataclass(frozen=True, slots=True)
class Node:
    """A point of the network at one voltage (kV line-to-line)."""

    id: str
    phases: str
    nominal_kv: float = 12.47
    structure: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A span or cable; `length_m` in metres."""

    id: str
    from_node: str
    to_node: str
    phases: str
    length_m: float = 40.0
    circuit: str = ""


@dataclass(frozen=True, slots=True)
class Device:
    """Whatever can be opened between two nodes, by phase. `closed` holds the phases that stand closed
    normally.

    The defaults are the worse case: no visible break, may close by itself or by remote control.
    """

    id: str
    from_node: str
    to_node: str
    phases: str
    closed: str
    kind: str = "cutout"
    operation: str = "single"
    circuit: str = ""
    structure: str = ""
    visible_break: bool = False
    recloses: bool = True
    remote: bool = True
    label: str = ""


@dataclass(frozen=True, slots=True)
class Regulator:
    """A voltage regulator: each phase goes through to itself."""

    id: str
    from_node: str
    to_node: str
    phases: str


@dataclass(frozen=True, slots=True)
class Transformer:
    """A unit or bank; `phases` are those of the primary. A common core couples the phases of a bank."""

    id: str
    primary_node: str
    secondary_node: str
    phases: str
    connection: str
    common_core: bool = False
    structure: str = ""
    kva: float = 0.0
    label: str = ""

    @property
    def joins(self) -> bool:
        """Whether each primary phase goes through to the same secondary phase.

        >>> Transformer("T", "p", "s", "B", "single").joins
        True
        >>> Transformer("T", "p", "s", "AB", "phase_to_phase").joins
        False
        """
        return self.connection in JOINING


@dataclass(frozen=True, slots=True)
class Capacitor:
    """A capacitor bank; without a grounded neutral it couples its phases."""

    id: str
    node: str
    phases: str
    connection: str


@dataclass(frozen=True, slots=True)
class Load:
    """A load; connected in delta it couples its phases."""

    id: str
    node: str
    phases: str
    connection: str


@dataclass(frozen=True, slots=True)
class Source:
    """Whatever can put voltage on a wire: a station, or a machine of a customer (every other kind).

    Sources that may be paralleled share a `parallel_group`.
    """

    id: str
    node: str
    kind: str
    phases: str
    means_of_disconnection: str = "unknown"
    device: str = ""
    premises: str = ""
    parallel_group: str = ""

    @property
    def is_station(self) -> bool:
        return self.kind == "station"

    @property
    def called(self) -> str:
        """Kind and name, as a person says it.

        >>> Source("GEN-219", "n", "standby", "B").called
        'standby generator GEN-219'
        """
        generator = " generator" if self.kind in ("standby", "mobile") else ""
        return f"{self.kind}{generator} {self.id}"

    @property
    def interlocked(self) -> bool:
        """Whether a transfer switch on record keeps the machine off the utility's wires.

        Never true of an inverter: that it trips by itself is protection, not a point of isolation.

        >>> Source("S", "n", "standby", "B", "interlocked").interlocked
        True
        >>> Source("S", "n", "inverter", "B", "interlocked").interlocked
        False
        """
        return self.means_of_disconnection == "interlocked" and self.kind not in ("station", "inverter")


@dataclass(frozen=True, slots=True)
class Premises:
    """A service; empty `phases` are those of the transformer's secondary node.

    `transfer` says how one with two feeds goes from one to the other: "open" (the first is broken before the
    second is made), "closed" (both are made for a moment), "automatic" (it moves by itself), "" (not known).
    """

    id: str
    transformer: str
    second_transformer: str = ""
    phases: str = ""
    care: str = "none"
    transfer: str = ""

    @property
    def transformers(self) -> tuple[str, ...]:
        return (self.transformer, self.second_transformer) if self.second_transformer else (self.transformer,)

    @property
    def may_join_feeds(self) -> bool:
        """Whether voltage may come through from one of two feeds to the other; not only where the record says
        that the first is broken before the second is made.

        >>> Premises("H", "T-1", "T-2", transfer="closed").may_join_feeds
        True
        >>> Premises("H", "T-1", "T-2", transfer="open").may_join_feeds
        False
        """
        return bool(self.second_transformer) and self.transfer != "open"


@dataclass(frozen=True)
class Network:
    """One revision of a whole network. Ids are unique within their kind."""

    revision: int = 0
    nodes: tuple[Node, ...] = ()
    lines: tuple[Line, ...] = ()
    devices: tuple[Device, ...] = ()
    transformers: tuple[Transformer, ...] = ()
    regulators: tuple[Regulator, ...] = ()
    capacitors: tuple[Capacitor, ...] = ()
    loads: tuple[Load, ...] = ()
    sources: tuple[Source, ...] = ()
    premises: tuple[Premises, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    structures: tuple[Structure, ...] = ()

    @cached_property
    def node(self) -> dict[str, Node]:
        return {node.id: node for node in self.nodes}

    @cached_property
    def line(self) -> dict[str, Line]:
        return {line.id: line for line in self.lines}

    @cached_property
    def device(self) -> dict[str, Device]:
        return {device.id: device for device in self.devices}

    @cached_property
    def transformer(self) -> dict[str, Transformer]:
        return {transformer.id: transformer for transformer in self.transformers}

    @cached_property
    def source(self) -> dict[str, Source]:
        return {source.id: source for source in self.sources}

    @cached_property
    def circuit(self) -> dict[str, Circuit]:
        return {circuit.id: circuit for circuit in self.circuits}

    @cached_property
    def structure(self) -> dict[str, Structure]:
        return {structure.id: structure for structure in self.structures}

    @cached_property
    def customers(self) -> Counter[str]:
        """How many premises have each transformer as their first."""
        return Counter(premises.transformer for premises in self.premises)

    @cached_property
    def life_support(self) -> Counter[str]:
        """In how many of them somebody lives on a machine that needs the supply."""
        return Counter(premises.transformer for premises in self.premises if premises.care == "life_support")

    @property
    def branches(self) -> Iterator[Line | Regulator]:
        """Everything that joins two nodes of one voltage, phase to phase, and can't be opened."""
        yield from self.lines
        yield from self.regulators

    @cached_property
    def normally_open(self) -> dict[str, str]:
        """The phases of each device that stand open in its normal position; devices with none are absent."""
        return {
            device.id: letters(set(device.phases) - set(device.closed))
            for device in self.devices
            if set(device.phases) - set(device.closed)
        }

    def pole(self, node: str) -> str:
        """The number on the structure that carries a node, its id where none is written on it; "" in a
        station and where it is not known."""
        structure = self.structure.get(self.node[node].structure)
        return (structure.label or structure.id) if structure and structure.kind != "station" else ""


def normally_open(network: Network) -> dict[str, str]:
    """The phases of each device that stand open in its normal position; devices with none are absent.

    >>> tie, cutout = Device("N-7", "a", "b", "ABC", closed=""), Device("C-1", "a", "b", "AB", closed="AB")
    >>> normally_open(Network(devices=(tie, cutout)))
    {'N-7': 'ABC'}
    """
    return dict(network.normally_open)


def served_by(network: Network, premises: Premises) -> Iterator[tuple[Transformer, str]]:
    """The one or two transformers of a premises, each with the secondary phases that serve it."""
    for transformer_id in premises.transformers:
        transformer = network.transformer[transformer_id]
        yield transformer, premises.phases or network.node[transformer.secondary_node].phases


def letters(phases: set[str]) -> str:
    """A set of phases as letters in order.

    >>> letters({"C", "A"})
    'AC'
    """
    return "".join(sorted(phases))


def in_words(phases: str) -> str:
    """Phases as they are said.

    >>> in_words("AC"), in_words("B")
    ('phases A, C', 'phase B')
    """
    return f"phase{'s' if len(phases) > 1 else ''} {', '.join(phases)}"
