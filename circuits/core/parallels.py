"""Loops, paralleled sources and unlike phases joined, as the devices are reported to stand.

All are facts of one state: none says that it was meant. What may never be closed is refused elsewhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from circuits.core.answers import Answer
from circuits.core.joining import Ints
from circuits.core.loops import loops
from circuits.core.network import Compiled
from circuits.core.trace import Trace
from circuits.core.values import PHASES, Device, Premises, in_words, letters, served_by

# By how much a secondary leads its primary, in steps of 30 degrees. Wye-delta and delta-wye banks of the
# usual connection lag 30 degrees (IEEE C57.12.00, from memory); a unit between two phases leads the first by
# 30.
_LEADS = {
    "wye-delta": -1,
    "wye_grounded-delta": -1,
    "delta-wye_grounded": -1,
    "open_wye-open_delta": -1,
    "phase_to_phase": 1,
}


@dataclass(frozen=True, slots=True)
class Loop:
    """What closes a loop: `devices`, and `others` that can't be opened: (kind, id) of banks, or of all that
    is in a loop without a device.

    `sources` are the stations that it parallels; `like` says whether these are on record as fit to be
    paralleled. `out_of_step`: the windings of its banks turn the voltage, so that its ends don't meet.
    """

    phases: str
    devices: tuple[str, ...]
    others: tuple[tuple[str, str], ...] = ()
    sources: tuple[str, ...] = ()
    like: bool = True
    out_of_step: bool = False

    @property
    def parallels_sources(self) -> bool:
        return len(self.sources) > 1

    @property
    def words(self) -> str:
        """Such as "a loop is closed by J-207, C-208 and C-221 (phases A, B, C)"."""
        closing = listed([*self.devices, *(f"{kind} {name}" for kind, name in self.others)])
        if self.parallels_sources:
            by = f" by {closing}" if closing else " without a device between"
            said = f"stations {listed(self.sources)} are paralleled{by} ({in_words(self.phases)})"
            if not self.like:
                said += ", not on record as fit to be paralleled"
        else:
            said = f"a loop is closed by {closing} ({in_words(self.phases)})"
        return f"{said}; its banks turn the voltage differently" if self.out_of_step else said


@dataclass(frozen=True, slots=True)
class UnlikeTie:
    """A closed secondary tie whose two sides derive from different phases."""

    device: str
    from_phases: str
    to_phases: str

    @property
    def words(self) -> str:
        sides = [in_words(phases) for phases in (self.from_phases, self.to_phases)]
        return f"unlike phases are joined by {self.device}: {listed(sides)}"


@dataclass(frozen=True, slots=True)
class TwoFeeds:
    """Premises that may join their two feeds, both energized: for each the transformer, its secondary phases
    and whose voltage it is. `unlike` where these phases differ."""

    premises: str
    transfer: str
    feeds: tuple[tuple[str, str, tuple[str, ...]], ...]

    @property
    def unlike(self) -> bool:
        return len({phases for _, phases, _ in self.feeds}) > 1

    @property
    def words(self) -> str:
        sides = [f"{name} ({in_words(phases)}, {listed(sources)})" for name, phases, sources in self.feeds]
        how = {"closed": "closed transfer", "automatic": "automatic transfer"}.get(
            self.transfer, "kind of transfer not known"
        )
        said = f"premises {self.premises} may join {listed(sides)}: {how}"
        return f"{said}; these are unlike phases" if self.unlike else said


@dataclass(frozen=True, slots=True)
class Parallels:
    """What is joined more than once. `machines` are customers' machines that may run in parallel with a
    station."""

    loops: tuple[Loop, ...] = ()
    unlike: tuple[UnlikeTie, ...] = ()
    two_feeds: tuple[TwoFeeds, ...] = ()
    machines: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """What joins, worst first; the machines are left out, since an inverter is always so."""
        found: list[UnlikeTie | Loop | TwoFeeds] = [*self.unlike, *self.loops, *self.two_feeds]
        return tuple(one.words for one in found)

    def beyond(self, other: "Parallels") -> "Parallels":
        """What is joined here and not in the other state, a loop on the phases on which it is not."""
        known = set(other.loops)
        left = [loop for loop in self.loops if loop not in known]
        there = {replace(loop, phases=phase) for loop in other.loops if left for phase in loop.phases}
        loops = []
        for loop in left:
            if phases := "".join(p for p in loop.phases if replace(loop, phases=p) not in there):
                loops.append(replace(loop, phases=phases))
        return Parallels(
            loops=tuple(loops),
            unlike=tuple(one for one in self.unlike if one not in other.unlike),
            two_feeds=tuple(one for one in self.two_feeds if one not in other.two_feeds),
            machines=tuple(one for one in self.machines if one not in other.machines),
        )


def parallels(state: Trace) -> Parallels:
    """What is looped, paralleled and joined out of phase, each with what closes it.

    A loop is named once for all the phases in which the same devices close it. Two loops that share a device
    are one: any of its devices lies on a way round. Stations count as joined behind their buses, phase by
    phase, so a loop through that is sources in parallel. Cost: two scipy searches of the sections where
    anything is looped, one otherwise.

    >>> from circuits.core.network import Device, Line, Network, Node, Source, compile_network
    >>> from circuits.core.trace import trace
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),
    ...              Device("C-2", "main", "tap", "A", closed="A")),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> parallels(trace(compiled, {})).sentences
    ('a loop is closed by C-1 and C-2 (phase A)',)
    >>> parallels(trace(compiled, {"C-1": "A"})).sentences
    ()
    """
    compiled = state.compiled
    return replace(
        loops_and_ties(state),
        two_feeds=tuple(_two_feeds(state)),
        machines=tuple(
            source.id
            for source in compiled.network.sources
            if not (source.is_station or source.interlocked)
            and any(state.answer(source.node, phase) is Answer.ENERGIZED for phase in source.phases)
        ),
    )


def loops_and_ties(state: Trace) -> Parallels:
    """The loops and the unlike phases of `parallels` alone: what has to be known of a state to tell what may
    never be joined."""
    return Parallels(
        loops=(*_of_devices(state), *_standing(state.compiled).loops), unlike=tuple(_unlike(state))
    )


@dataclass(frozen=True, slots=True)
class _Edge:
    """What joins two points of the graph of a state; `gain` in steps of 30 degrees."""

    kind: str
    id: str
    phases: str
    ends: tuple[int, int] = (0, 0)
    gain: int = 0


@dataclass(frozen=True, slots=True)
class _Standing:
    """What is the same in every state: the edges and loops that no device opens, the secondary ties across
    unlike phases and the premises that may join two feeds."""

    edges: tuple[_Edge, ...]
    ends: Ints
    unlike: tuple[Device, ...]
    two_feeds: tuple[Premises, ...]
    loops: tuple[Loop, ...]


@lru_cache(maxsize=1)
def _standing(compiled: Compiled) -> _Standing:
    network = compiled.network
    edges = [*_stations(compiled), *_banks(compiled)]
    return _Standing(
        edges=tuple(edges),
        ends=_pairs(edges),
        unlike=tuple(
            device
            for device in network.devices
            if device.kind == "secondary_tie"
            and network.node[device.from_node].phases != network.node[device.to_node].phases
        ),
        two_feeds=tuple(premises for premises in network.premises if premises.may_join_feeds),
        loops=tuple(_without_devices(compiled)),
    )


def _stations(compiled: Compiled) -> Iterator[_Edge]:
    """Each phase of a station, to a point of its own that all stations have in common."""
    for source in compiled.network.sources:
        for bus, phase in enumerate(PHASES, start=compiled.sections):
            if source.is_station and phase in source.phases:
                section = int(compiled.section[compiled.index[source.node, phase]])
                yield _Edge("station", source.id, phase, (bus, section))


def _banks(compiled: Compiled) -> Iterator[_Edge]:
    """The windings of banks and phase-to-phase units, phase by phase."""
    section, index = compiled.section, compiled.index
    for one in compiled.network.transformers:
        if not one.joins:
            gain = _LEADS.get(one.connection, 0)
            for phase in set(one.phases) & set(compiled.network.node[one.secondary_node].phases):
                primary = int(section[index[one.primary_node, phase]])
                secondary = int(section[index[one.secondary_node, phase]])
                yield _Edge("transformer", one.id, phase, (primary, secondary), gain)


def _of_devices(state: Trace) -> Iterator[Loop]:
    compiled = state.compiled
    standing = _standing(compiled)
    closed = np.flatnonzero(state.closed)
    ends = np.concatenate([compiled.switch_ends[closed], standing.ends])
    gains = np.zeros(len(ends), dtype=np.int64)
    gains[len(closed) :] = [edge.gain for edge in standing.edges]

    def edge(number: int) -> _Edge:
        if number >= len(closed):
            return standing.edges[number - len(closed)]
        switch = compiled.switches[closed[number]]
        phases = {compiled.points[point][1] for point in switch.ends}
        return _Edge("device", switch.device.id, letters(phases))

    found = loops(compiled.sections + len(PHASES), ends, gains)
    yield from _named(compiled, [([edge(number) for number in ring], turned) for ring, turned in found])


def _without_devices(compiled: Compiled) -> Iterator[Loop]:
    """The loops of lines, regulators and joining transformers that no device can open."""
    if len(compiled.inner) == len(compiled.points) - compiled.sections:
        return
    edges = [
        _Edge(link.kind, link.id, compiled.points[link.start][1], (link.start, link.end))
        for link in compiled.inner
    ]
    found = loops(len(compiled.points), _pairs(edges))
    yield from _named(compiled, [([edges[number] for number in ring], turned) for ring, turned in found])


def _pairs(edges: list[_Edge]) -> Ints:
    return np.array([edge.ends for edge in edges], dtype=np.int64).reshape(-1, 2)


def _named(compiled: Compiled, found: list[tuple[list[_Edge], bool]]) -> Iterator[Loop]:
    """The loops, phases that are closed by the same things as one."""
    phases_of: dict[tuple[frozenset[tuple[str, str]], bool], set[str]] = {}
    for ring, turned in found:
        key = frozenset((edge.kind, edge.id) for edge in ring), turned
        phases_of.setdefault(key, set()).update(*(edge.phases for edge in ring))
    source = compiled.network.source
    for (things, turned), phases in phases_of.items():
        devices = [name for kind, name in things if kind == "device"]
        stations = sorted(name for kind, name in things if kind == "station")
        groups = {source[name].parallel_group or name for name in stations}
        yield Loop(
            phases=letters(phases),
            devices=tuple(sorted(devices, key=compiled.device_order.__getitem__)),
            others=tuple(sorted(one for one in things if one[0] not in ("device", "station"))),
            sources=tuple(stations),
            like=len(groups) < 2,
            out_of_step=turned,
        )


def _unlike(state: Trace) -> Iterator[UnlikeTie]:
    compiled, node = state.compiled, state.compiled.network.node
    for device in _standing(compiled).unlike:
        if any(state.closed[compiled.switch[device.id, phase]] for phase in device.phases):
            yield UnlikeTie(device.id, node[device.from_node].phases, node[device.to_node].phases)


def _two_feeds(state: Trace) -> Iterator[TwoFeeds]:
    for premises in _standing(state.compiled).two_feeds:
        feeds = tuple(_feeds(state, premises))
        if len(feeds) > 1:
            yield TwoFeeds(premises.id, premises.transfer, feeds)


def _feeds(state: Trace, premises: Premises) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """The feeds of premises that have any voltage of a station."""
    for one, phases in served_by(state.compiled.network, premises):
        live = [phase for phase in phases if state.answer(one.secondary_node, phase) is Answer.ENERGIZED]
        if live:
            sources = {name for phase in live for name in state.sources(one.secondary_node, phase)}
            yield one.id, phases, tuple(sorted(sources))


def listed(words: tuple[str, ...] | list[str]) -> str:
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)
