"""Which device a person may take for another: by its label, or because it is of the same kind and near."""

from collections.abc import Iterator, Mapping
from functools import lru_cache

from circuits.core.network import Compiled, Device, Line
from circuits.core.rehearsing.rehearsal import OPEN, Move
from circuits.core.values import letters

NEAR = 3
"""How many spans or devices away a device is near; from judgement, not from a source."""


def taken_for(move: Move, compiled: Compiled, opened: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The devices that could be operated for the one of a move, with the phases that would move, as devices
    stand before it."""
    meant = compiled.network.device.get(move.device)
    if meant is None:
        return
    near = _near(compiled, {meant.from_node, meant.to_node})
    labels = _alike(compiled, meant.id)
    for other in compiled.network.devices:
        alike = other.id in labels
        near_it = other.kind == meant.kind and (other.from_node in near or other.to_node in near)
        if not alike and (not near_it or other.id == meant.id):
            continue
        stands = set(opened.get(other.id, ""))
        can = set(other.phases) - stands if move.operation == OPEN else set(other.phases) & stands
        same = can & set(move.phases)
        if can and (alike or same == set(move.phases)):
            yield other.id, letters(can if other.operation == "gang" else same or can)


@lru_cache(maxsize=256)
def _alike(compiled: Compiled, device: str) -> frozenset[str]:
    """The devices of which the label may be read for that of one: an order has it in several steps."""
    names = (other.id for other in compiled.network.devices)
    return frozenset(name for name in names if name != device and one_slip_apart(device, name))


def _near(compiled: Compiled, nodes: set[str]) -> set[str]:
    """The nodes that are at most `NEAR` spans or devices away."""
    beside, reached, edge = _beside(compiled), set(nodes), set(nodes)
    for _ in range(NEAR):
        edge = {beyond for node in edge for beyond in beside[node]} - reached
        reached |= edge
    return reached


@lru_cache(maxsize=2)
def _beside(compiled: Compiled) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {node.id: set() for node in compiled.network.nodes}
    between: list[Line | Device] = [*compiled.network.lines, *compiled.network.devices]
    for one in between:
        found[one.from_node].add(one.to_node)
        found[one.to_node].add(one.from_node)
    return found


def one_slip_apart(one: str, other: str) -> bool:
    """Whether two labels are one slip of the eye apart: one character more, less or another, or two
    neighbours the other way round (the distance of Damerau, 1964, from memory).

    >>> one_slip_apart("C-208", "C-280"), one_slip_apart("C-208", "C-20"), one_slip_apart("C-208", "C-311")
    (True, True, False)
    """
    if len(one) > len(other):
        one, other = other, one
    same = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), len(one))
    rest, others = one[same:], other[same:]
    if len(one) < len(other):
        return rest == others[1:]
    return rest[1:] == others[1:] or (rest[:2] == others[1::-1] and rest[2:] == others[2:])
