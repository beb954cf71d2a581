"""What carries voltage from one phase to another without joining them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from circuits.core.values import Network, Premises, Transformer, served_by


@dataclass(frozen=True, slots=True)
class Coupling:
    """Node-phases of which any that is live may put voltage on the others.

    `kind` is "bank", "unit", "load", "capacitor", "customer" or "second feed". A bank or unit makes its
    `secondary` whole when all of its `primary` is energized; the others have neither.
    """

    kind: str
    id: str
    members: tuple[int, ...]
    primary: tuple[int, ...] = ()
    secondary: tuple[int, ...] = ()


class NodePhases(Protocol):
    """The numbers of some phases of a node, or of all that it has; ValueError, naming the row, for others."""

    def __call__(self, row: str, node: str, phases: str = "", /) -> tuple[int, ...]: ...


def couplings(network: Network, at: NodePhases) -> Iterator[Coupling]:
    """All the couplings of a network: banks, phase-to-phase units, common cores, ungrounded capacitors, loads
    in delta, services of more than one phase, and premises with two feeds.

    Premises that are served alike count as one. Cost: one pass over the rows.
    """
    for transformer in network.transformers:
        yield from _windings(transformer, at)
    for capacitor in network.capacitors:
        if capacitor.connection != "wye_grounded" and len(capacitor.phases) > 1:
            members = at(f"capacitor {capacitor.id}", capacitor.node, capacitor.phases)
            yield Coupling("capacitor", capacitor.id, members)
    for load in network.loads:
        if load.connection == "delta":
            yield Coupling("load", load.id, at(f"load {load.id}", load.node, load.phases))
    yield from _services(network, at)


def _windings(transformer: Transformer, at: NodePhases) -> Iterator[Coupling]:
    row = f"transformer {transformer.id}"
    primary = at(row, transformer.primary_node, transformer.phases)
    if not transformer.joins:
        secondary = at(row, transformer.secondary_node)
        kind = "unit" if transformer.connection == "phase_to_phase" else "bank"
        yield Coupling(kind, transformer.id, primary + secondary, primary, secondary)
    elif transformer.common_core and len(primary) > 1:
        yield Coupling("bank", transformer.id, primary)


def _services(network: Network, at: NodePhases) -> Iterator[Coupling]:
    one_feed: dict[tuple[str, str], str] = {}
    two_feeds: dict[tuple[tuple[str, ...], str], Premises] = {}
    for premises in network.premises:
        for transformer, phases in served_by(network, premises):
            one_feed[transformer.id, phases] = premises.id
        if premises.may_join_feeds:
            two_feeds[premises.transformers, premises.phases] = premises
    for (transformer_id, phases), premises_id in one_feed.items():
        transformer = network.transformer[transformer_id]
        members = at(f"premises {premises_id}", transformer.secondary_node, phases)
        # A running three-phase motor holds voltage on a phase that its service has lost (common practice).
        if len(members) > 1 and transformer.joins:
            yield Coupling("customer", premises_id, members)
    for premises in two_feeds.values():
        sides = [
            at(f"premises {premises.id}", transformer.secondary_node, phases)
            for transformer, phases in served_by(network, premises)
        ]
        members = tuple(dict.fromkeys(point for side in sides for point in side))
        if len(members) > 1:
            yield Coupling("second feed", premises.id, members)
