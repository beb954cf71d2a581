"""The limits of a work clearance, from what a foreman says: from this pole to that one, on these phases; or
a transformer behind its own cutout.
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isclose

from circuits.core.network import Compiled
from circuits.core.values import Device, Regulator, in_words

# A node above this voltage, kV, is primary.
SECONDARY_KV = 1.0


class NoSuchLimits(ValueError):
    """Why the words do not describe limits, in a sentence."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a clearance covers: (node, phases) and (line, phases) pairs, from one end to the other."""

    nodes: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _Step:
    kind: str
    id: str
    to_node: str
    metres: float


def between(compiled: Compiled, from_structure: str, to_structure: str, phases: str) -> Limits:
    """The shortest run of primary between two structures (by id or by the number on them).

    A run goes along lines and regulators and, where it must, through devices; of the nodes at its end poles
    it takes the near ones, so that a cutout at the end of the run is not inside. Line taps to transformers
    are not included. Raises NoSuchLimits, with a sentence, for an unknown pole, phases that are not there,
    no way, or more than one equally short way. Cost: one shortest-path search over the primary, O(n log n).

    >>> from circuits.core.network import Device, Line, Network, Node, Structure, compile_network
    >>> compiled = compile_network(Network(
    ...     structures=(Structure("P-1"), Structure("P-2"), Structure("P-3")),
    ...     nodes=(Node("a", "AB", structure="P-1"), Node("b", "AB", structure="P-2"),
    ...            Node("c", "AB", structure="P-2")),
    ...     lines=(Line("ab", "a", "b", "AB"),),
    ...     devices=(Device("C-2", "b", "c", "AB", closed="AB"),)))
    >>> between(compiled, "P-1", "P-2", "A")
    Limits(nodes=(('a', 'A'), ('b', 'A')), lines=(('ab', 'A'),))
    >>> between(compiled, "P-1", "P-3", "A")
    Traceback (most recent call last):
    circuits.core.limits.NoSuchLimits: There is no primary at P-3.
    """
    if not phases or "".join(sorted(set(phases) & set("ABC"))) != phases:
        raise NoSuchLimits(f"{phases or 'Nothing'} is not a set of phases: write A, B, C or several of them.")
    starts = _nodes_at(compiled, from_structure, phases)
    ends = _nodes_at(compiled, to_structure, phases)
    if both := starts & ends:
        if len(both) > 1:
            raise NoSuchLimits(
                f"{from_structure} has {len(both)} points of primary, parted by a device: "
                "give limits between two poles, or choose the points."
            )
        return Limits(nodes=((both.pop(), phases),), lines=())
    reached, came = _search(compiled, starts, ends, phases)
    if not reached:
        raise NoSuchLimits(
            f"There is no primary with {in_words(phases)} between {from_structure} and {to_structure}."
        )
    nodes, lines = reached[:1], []
    ambiguous = len(reached) > 1
    while ways := came[nodes[-1]]:
        ambiguous |= len(ways) > 1
        node, step = ways[0]
        if step.kind == "line":
            lines.append(step.id)
        nodes.append(node)
    if ambiguous:
        raise NoSuchLimits(
            f"There is more than one equally short way between {from_structure} and {to_structure}: "
            "give limits that go part of the way."
        )
    return Limits(
        nodes=tuple((node, phases) for node in reversed(nodes)),
        lines=tuple((line, phases) for line in reversed(lines)),
    )


def behind_cutout(compiled: Compiled, transformer: str) -> Limits:
    """A transformer from its own cutout on, and all that its secondary node is joined to by lines.

    The primary line, at which the cutout hangs, is not inside. Raises NoSuchLimits, with a sentence, for an
    unknown transformer and for one that hangs on the line without a device of its own. Cost: one pass over
    the lines.

    >>> from circuits.core.network import Device, Network, Node, Transformer, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("P-1", "AB"), Node("P-1t", "B"), Node("T-1s", "B", nominal_kv=0.24)),
    ...     devices=(Device("F-1", "P-1", "P-1t", "B", closed="B"),),
    ...     transformers=(Transformer("T-1", "P-1t", "T-1s", "B", "single"),)))
    >>> behind_cutout(compiled, "T-1")
    Limits(nodes=(('P-1t', 'B'), ('T-1s', 'B')), lines=())
    """
    network = compiled.network
    unit = next((one for one in network.transformers if one.id == transformer), None)
    if unit is None:
        raise NoSuchLimits(f"There is no transformer {transformer}.")
    on_line = {node for line in network.lines for node in (line.from_node, line.to_node)}
    if unit.primary_node in on_line or not any(
        unit.primary_node in (device.from_node, device.to_node) for device in network.devices
    ):
        raise NoSuchLimits(
            f"{transformer} hangs on the line without a cutout of its own: give limits on the line."
        )
    inside, lines = [unit.primary_node, unit.secondary_node], []
    for node in inside:
        for line in network.lines:
            if line not in lines and node in (line.from_node, line.to_node):
                lines.append(line)
                inside += [end for end in (line.from_node, line.to_node) if end not in inside]
    return Limits(
        nodes=tuple((node, network.node[node].phases) for node in inside),
        lines=tuple((line.id, line.phases) for line in lines),
    )


def _nodes_at(compiled: Compiled, structure: str, phases: str) -> set[str]:
    network = compiled.network
    ids = {found.id for found in network.structures if structure in (found.id, found.label)}
    if not ids:
        raise NoSuchLimits(f"There is no pole or other structure {structure}.")
    if len(ids) > 1:
        raise NoSuchLimits(f"More than one structure carries the number {structure}: use its id.")
    primary = [node for node in network.nodes if node.structure in ids and node.nominal_kv > SECONDARY_KV]
    if not primary:
        raise NoSuchLimits(f"There is no primary at {structure}.")
    found = {node.id for node in primary if set(phases) <= set(node.phases)}
    if not found:
        raise NoSuchLimits(f"The primary at {structure} does not have {in_words(phases)}.")
    return found


def _steps(compiled: Compiled, phases: str) -> dict[str, list[_Step]]:
    network = compiled.network
    wanted = set(phases)

    def branches() -> Iterator[tuple[str, _Step]]:
        for line in network.lines:
            if wanted <= set(line.phases):
                yield line.from_node, _Step("line", line.id, line.to_node, line.length_m)
                yield line.to_node, _Step("line", line.id, line.from_node, line.length_m)
        through: tuple[Device | Regulator, ...] = (*network.devices, *network.regulators)
        for branch in through:
            if wanted <= set(branch.phases):
                yield branch.from_node, _Step("device", branch.id, branch.to_node, 0.0)
                yield branch.to_node, _Step("device", branch.id, branch.from_node, 0.0)

    steps: dict[str, list[_Step]] = {}
    for node, step in branches():
        steps.setdefault(node, []).append(step)
    return steps


def _search(
    compiled: Compiled, starts: set[str], ends: set[str], phases: str
) -> tuple[list[str], dict[str, list[tuple[str, _Step]]]]:
    """The nearest of the ends (more than one if equally near), and for each node the shortest ways to come
    to it.

    Short is fewest metres, then fewest devices.
    """
    steps = _steps(compiled, phases)
    reached: list[str] = []
    cost: dict[str, tuple[float, int]] = dict.fromkeys(starts, (0.0, 0))
    came: dict[str, list[tuple[str, _Step]]] = {start: [] for start in starts}
    heap = [(0.0, 0, start) for start in sorted(starts)]
    while heap:
        metres, devices, node = heapq.heappop(heap)
        if (metres, devices) != cost[node]:
            continue
        if reached and (metres, devices) > cost[reached[0]]:
            break
        if node in ends:
            reached.append(node)
        for step in steps.get(node, ()):
            new = (metres + step.metres, devices + (step.kind == "device"))
            old = cost.get(step.to_node, (inf, 0))
            if isclose(new[0], old[0], abs_tol=1e-6) and new[1] == old[1]:
                came[step.to_node].append((node, step))
            elif new < old:
                cost[step.to_node] = new
                came[step.to_node] = [(node, step)]
                heapq.heappush(heap, (*new, step.to_node))
    return reached, came
