"""Every way by which something could still feed the limits of a work clearance.

Nothing counts as blocking but what the caller says is blocked: a device that merely stands open, a breaker, a
normally-open tie are all taken as closed. A coupling between phases counts as a way.
"""

from collections import deque
from collections.abc import Collection, Iterator, Mapping

from circuits.core.network import Compiled
from circuits.core.values import Source, in_words
from circuits.core.ways import COUPLINGS, Element, Filling, LivePath, Way, as_element, merged

__all__ = ["Element", "LivePath", "fence", "let_in", "live_paths", "told", "words"]


def live_paths(
    compiled: Compiled,
    blocked: Mapping[str, str],
    limits: Collection[tuple[str, str]],
    *,
    interlocked_blocks: bool = True,
) -> tuple[LivePath, ...]:
    """Every source that can reach the limits with all devices closed except the blocked phases of devices.

    `blocked` is device id -> letters, `limits` are (node, phases) pairs. An empty answer means: no source
    on record. For each source there is one way with the fewest devices, and for each device at the edge of
    the limits one way in over it, if there is any, so that none comes as a surprise after another has been
    blocked. Phases that go the same way are one path. Stations come first, then fewest devices.

    A source behind a transfer switch on record as interlocked is left out (see `told`), unless
    `interlocked_blocks` is false. Raises ValueError for a node, device or phase that is not there.

    Cost: one breadth-first search of the sections, and one more for each way in that it has not used. What a
    path leads through is filled in when it is asked for.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "AB"), Node("tap", "AB")),
    ...     devices=(Device("C-1", "main", "tap", "AB", closed="AB"),),
    ...     sources=(Source("station", "main", "station", "AB"),)))
    >>> [words(compiled, path) for path in live_paths(compiled, {"C-1": "A"}, [("tap", "AB")])]
    ['station station > C-1 (phase B)']
    >>> live_paths(compiled, {"C-1": "AB"}, [("tap", "AB")])
    ()
    """
    goals = {compiled.point(node, phase) for node, phases in limits for phase in phases}
    search = _Search(compiled, set(compiled.numbers(blocked.items())), goals, interlocked_blocks)
    return merged(compiled, search.ways())


def let_in(
    compiled: Compiled,
    blocked: Mapping[str, str],
    limits: Collection[tuple[str, str]],
    but: Collection[str] = (),
) -> bool:
    """Whether any source but these reaches the limits: whether `live_paths` has a path from another.

    Cost: a search of what hangs together with the limits up to what is blocked, which ends with the first
    source. What is behind its points is small, so this is how to ask of many clearances at every report.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> let_in(compiled, {}, [("tap", "A")]), let_in(compiled, {"C-1": "A"}, [("tap", "A")])
    (True, False)
    """
    graph = compiled.graph
    shut = set(compiled.numbers(blocked.items()))
    queue = deque(
        {int(compiled.section[compiled.point(node, phase)]) for node, phases in limits for phase in phases}
    )
    seen = set(queue)
    while queue:
        here = queue.popleft()
        if any(not one.interlocked and one.id not in but for one, _ in compiled.sources_at.get(here, ())):
            return True
        beyond = {there for number, there in graph.ways[here] if number not in shut}
        beyond.update(there for coupling in graph.couplings[here] for there in graph.members[coupling])
        queue.extend(beyond - seen)
        seen |= beyond
    return False


def told(
    compiled: Compiled, blocked: Mapping[str, str], limits: Collection[tuple[str, str]]
) -> tuple[LivePath, ...]:
    """The ways that only an interlocked transfer switch blocks: not live paths, but the crew is told of
    them."""
    paths = live_paths(compiled, blocked, limits, interlocked_blocks=False)
    return tuple(path for path in paths if compiled.network.source[path.source_id].interlocked)


def fence(compiled: Compiled, limits: Collection[tuple[str, str]]) -> tuple[str, ...]:
    """The devices first met in every direction from the limits, in the order of the network's devices.

    `limits` are (node, phases) pairs; ValueError for one that is not there. A device with both sides inside
    on every phase is not on the fence. What lies beyond a coupling without a device counts as inside.
    """
    inside = {
        int(compiled.section[compiled.point(node, phase)]) for node, phases in limits for phase in phases
    }
    queue = deque(inside)
    while queue:
        for number, beyond in compiled.graph.out_of(queue.popleft()):
            if number < 0 and beyond not in inside:
                inside.add(beyond)
                queue.append(beyond)
    met = {
        switch.device.id
        for switch, (a, b) in zip(compiled.switches, compiled.switch_ends.tolist(), strict=True)
        if (a in inside) != (b in inside)
    }
    return tuple(device.id for device in compiled.network.devices if device.id in met)


def words(compiled: Compiled, path: LivePath) -> str:
    """A path as a person would say it: the circuit, the devices, the first and last pole of each run, the
    banks.

    For example "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phases A, B)"; a customer's machine
    begins with what it is.
    """
    network = compiled.network
    source = network.source[path.source_id]
    said = [_origin(compiled, source, path)]
    run: list[str] = []
    last_pole = ""
    for steps in path.steps():
        kind, name, _ = steps[0]
        if kind == "node":
            pole = network.pole(name)
            if pole and pole != last_pole:
                run.append(pole)
                last_pole = pole
        elif kind == "device" or kind in COUPLINGS:
            said += _ends(run)
            run = []
            from_phases = f"from {in_words(as_element(steps).phase)}"
            said.append(name if kind == "device" else f"{COUPLINGS[kind]} {name} {from_phases}")
    said += _ends(run)
    return f"{' > '.join(said)} ({in_words(path.phases)})"


def _ends(run: list[str]) -> list[str]:
    return run if len(run) < 3 else [run[0], run[-1]]


def _origin(compiled: Compiled, source: Source, path: LivePath) -> str:
    network = compiled.network
    if not source.is_station:
        return f"{source.kind} {source.id}"
    for (kind, name, _), *_ in path.steps():
        branch = network.line.get(name) if kind == "line" else network.device.get(name)
        if kind in ("line", "device") and branch and branch.circuit in network.circuit:
            return network.circuit[branch.circuit].name
    return f"station {source.id}"


# A switch or coupling (see `SectionGraph.out_of`) with the sections before and beyond it.
_Crossing = tuple[int, int, int]


class _Search:
    def __init__(
        self, compiled: Compiled, blocked: set[int], goals: set[int], interlocked_blocks: bool
    ) -> None:
        self.compiled = compiled
        self.blocked = blocked
        self.limits = {int(compiled.section[goal]) for goal in goals}
        self.interlocked_blocks = interlocked_blocks
        self.goals = frozenset(goals)
        self.filling = Filling(compiled)

    def ways(self) -> Iterator[Way]:
        ways_in = [crossing for section in sorted(self.limits) for crossing in self._out_of(section)]
        came = self._spread(ways_in)
        found = [
            (source, start, _back(came, section))
            for section in (*sorted(self.limits), *came)
            for source, start in self._sources(section)
        ]
        # Of a source's ways to a phase of the limits, those with the fewest crossings: it may have other
        # phases, which come round by couplings far away.
        fewest: dict[tuple[str, str], int] = {}
        for source, start, crossed in found:
            key = source.id, self._phase_reached(start, crossed)
            fewest[key] = min(fewest.get(key, len(crossed)), len(crossed))
        used = set[int]()
        for source, start, crossed in found:
            if len(crossed) == fewest[source.id, self._phase_reached(start, crossed)]:
                used.update(number for number, _, _ in crossed[-1:])
                yield self._way(source, start, crossed)
        for way_in in ways_in:
            if way_in[0] >= 0 and way_in[0] not in used:
                came = self._spread([way_in], until_source=True)
                last = next(reversed(came))
                for source, start in self._sources(last):
                    yield self._way(source, start, _back(came, last))

    def _way(self, source: Source, start: int, crossed: list[_Crossing]) -> Way:
        return self.filling.way(source, start, ((number, end) for number, _, end in crossed), self.goals)

    def _phase_reached(self, start: int, crossed: list[_Crossing]) -> str:
        return self.compiled.points[self.compiled.crossing(*crossed[-1]).end if crossed else start][1]

    def _sources(self, section: int) -> Iterator[tuple[Source, int]]:
        for source, point in self.compiled.sources_at.get(section, ()):
            if not (self.interlocked_blocks and source.interlocked):
                yield source, point

    def _out_of(self, section: int) -> Iterator[_Crossing]:
        """The crossings that lead from a section away from the limits."""
        for number, beyond in self.compiled.graph.out_of(section):
            if number not in self.blocked and beyond not in self.limits:
                yield number, section, beyond

    def _spread(self, ways_in: list[_Crossing], *, until_source: bool = False) -> dict[int, _Crossing]:
        """Search outward: section -> the crossing by which it was reached, in the order of the search."""
        came: dict[int, _Crossing] = {}
        queue = deque(ways_in)
        while queue:
            crossing = queue.popleft()
            section = crossing[2]
            if section in came:
                continue
            came[section] = crossing
            if until_source and any(self._sources(section)):
                break
            queue.extend(self._out_of(section))
        return came


def _back(came: Mapping[int, _Crossing], section: int) -> list[_Crossing]:
    """The crossings from a section that a search has reached back to the limits."""
    crossed = []
    while crossing := came.get(section):
        number, section, beyond = crossing
        crossed.append((number, beyond, section))
    return crossed
