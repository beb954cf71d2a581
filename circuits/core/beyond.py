"""What lies beyond one device: all that hangs on its far side while it alone stands open."""

from collections import deque
from dataclasses import dataclass
from math import inf

from circuits.core.isolation import LivePath, live_paths
from circuits.core.network import Compiled

Point = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Beyond:
    """`inside` has the (node, phase) pairs beyond the device, `ways` how a source still reaches them.

    Only without any way is the device the one disconnect of what is inside.
    """

    inside: frozenset[Point]
    ways: tuple[LivePath, ...]


def beyond(compiled: Compiled, device: str, phases: str) -> Beyond:
    """What these phases of a device part from every source, with all other devices taken as closed.

    Couplings between phases lead on, and every source counts, a customer's machine behind an interlocked
    transfer too. Beyond is each side that no source reaches; where sources reach both, the side that lies
    farther from a station, counted in devices. Raises ValueError for a device or a phase that is not there.

    Cost: one search of the sections for each side.

    >>> from circuits.core.network import Device, Line, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "AB"), Node("tap", "AB"), Node("end", "A")),
    ...     lines=(Line("span", "tap", "end", "A"),),
    ...     devices=(Device("C-1", "main", "tap", "AB", closed="AB"),),
    ...     sources=(Source("station", "main", "station", "AB"),)))
    >>> sorted(beyond(compiled, "C-1", "A").inside)
    [('end', 'A'), ('tap', 'A')]
    """
    blocked = set(compiled.numbers([(device, phases)]))
    sides = [{compiled.switches[number].ends[side] for number in blocked} for side in (0, 1)]
    ways = [_ways(compiled, device, phases, side) for side in sides]
    unfed = [place for place in (0, 1) if not ways[place]]
    if unfed:
        starts = set().union(*(sides[place] for place in unfed))
        return Beyond(_hanging_on(compiled, starts, blocked), ())
    far = max((0, 1), key=lambda place: _from_a_station(compiled, ways[place]))
    return Beyond(_hanging_on(compiled, sides[far], blocked), ways[far])


def _ways(compiled: Compiled, device: str, phases: str, side: set[int]) -> tuple[LivePath, ...]:
    limits = [compiled.points[point] for point in side]
    return live_paths(compiled, {device: phases}, limits, interlocked_blocks=False)


def _from_a_station(compiled: Compiled, ways: tuple[LivePath, ...]) -> float:
    """The fewest devices between a station and there."""
    stations = (way for way in ways if compiled.network.source[way.source_id].is_station)
    return min((len(way.devices) for way in stations), default=inf)


def _hanging_on(compiled: Compiled, starts: set[int], blocked: set[int]) -> frozenset[Point]:
    reached = {int(compiled.section[start]) for start in starts}
    queue = deque(reached)
    while queue:
        for number, there in compiled.graph.out_of(queue.popleft()):
            if number not in blocked and there not in reached:
                reached.add(there)
                queue.append(there)
    sections = compiled.section.tolist()
    return frozenset(
        point for point, section in zip(compiled.points, sections, strict=True) if section in reached
    )
