"""Which node-phases are energized as the devices are reported to stand, and which nobody may call
de-energized.

Over-warn, never under-warn: a node-phase is "de-energized by report" only when no source is joined to it
and no winding, machine or capacitor hangs between it and a live phase. The trace knows only what was
reported; it is no substitute for a visible open, a test for voltage and grounds.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from functools import cached_property
from itertools import pairwise

import numpy as np

from circuits.core.answers import VOLTAGE, Answer, PremisesState, together
from circuits.core.network import Compiled, Coupling, Ints, join
from circuits.core.sections import Service
from circuits.core.values import Transformer, in_words, letters

__all__ = ["NOT_ENERGIZED", "Answer", "PremisesState", "Trace", "trace"]

NOT_ENERGIZED = -1
_LIVE = -1  # in the graph of what is out: everything that is energized, taken as one


class Trace:
    """The answers for one state of the devices. Make it with `trace`.

    An *island* is all the sections that hang together through closed switches; every answer belongs to one.
    """

    def __init__(self, compiled: Compiled, open_phases: Mapping[str, str]) -> None:
        self.compiled = compiled
        self.closed = np.ones(len(compiled.switches), dtype=np.bool_)
        self.closed[list(compiled.numbers(open_phases.items()))] = False
        islands, island_of_section = join(compiled.sections, compiled.switch_ends[self.closed])
        self.island: Ints = island_of_section[compiled.section]
        self.islands: list[int] = island_of_section.tolist()
        """The island of each section."""
        self.stations: list[frozenset[str]] = [frozenset()] * islands
        """The stations whose voltage is, or may be, on each island."""
        self._machines: list[frozenset[str]] = [frozenset()] * islands
        for section, found in compiled.sources_at.items():
            here = self.islands[section]
            self.stations[here] |= {source.id for source, _ in found if source.is_station}
            self._machines[here] |= {
                source.id for source, _ in found if not source.is_station and not source.interlocked
            }
        self._couplings = [self._among(sections) for sections in compiled.graph.members]
        self.rank = [0 if stations else NOT_ENERGIZED for stations in self.stations]
        """How many banks stand between each island and a station, NOT_ENERGIZED for one that has none."""
        self._cut_off: dict[int, tuple[str, ...]] = {}
        self._energize_through_banks()
        self.answers = [Answer.ENERGIZED if stations else Answer.DEENERGIZED for stations in self.stations]
        """The answer of each island."""
        self._judge_what_is_not_energized()

    # The state as plain lists, for searches of a few sections.

    @cached_property
    def is_closed(self) -> list[bool]:
        """Whether each switch stands closed."""
        return list(self.closed.tolist())

    @cached_property
    def sections_of(self) -> list[list[int]]:
        """The sections of each island."""
        found: list[list[int]] = [[] for _ in self.answers]
        for section, island in enumerate(self.islands):
            found[island].append(section)
        return found

    @cached_property
    def stations_in(self) -> dict[int, list[int]]:
        """The sections of an island in which a station stands."""
        found: dict[int, list[int]] = {}
        for section in self.compiled.graph.stations:
            found.setdefault(self.islands[section], []).append(section)
        return found

    @cached_property
    def fed_by(self) -> dict[int, list[int]]:
        """The numbers of the couplings, banks with a whole primary, that energize an island."""
        graph = self.compiled.graph
        found: dict[int, list[int]] = {}
        for number, secondary in enumerate(graph.secondary):
            primary = self._among(graph.primary[number])
            if secondary and all(self.rank[island] != NOT_ENERGIZED for island in primary):
                for island in self._among(secondary):
                    found.setdefault(island, []).append(number)
        return found

    def island_of(self, node_id: str, phase: str) -> int:
        """The number of the island that a phase of a node belongs to; ValueError if there is none such."""
        return int(self.island[self.compiled.point(node_id, phase)])

    def _among(self, sections: Iterable[int]) -> set[int]:
        return {self.islands[section] for section in sections}

    def _energize_through_banks(self) -> None:
        """A bank or phase-to-phase unit whose primary phases are all energized energizes its secondary."""
        graph = self.compiled.graph
        banks = [
            (self._among(primary), self._among(secondary))
            for primary, secondary in zip(graph.primary, graph.secondary, strict=True)
            if secondary
        ]
        grew = True
        while grew:
            grew = False
            for primary, secondary in banks:
                if all(self.stations[island] for island in primary):
                    through = frozenset[str]().union(*(self.stations[island] for island in primary))
                    for island in secondary:
                        if not through <= self.stations[island]:
                            self.stations[island] |= through
                            grew = True
                        if self.rank[island] == NOT_ENERGIZED:
                            self.rank[island] = 1 + max(self.rank[other] for other in primary)

    def _judge_what_is_not_energized(self) -> None:
        """What hangs together over couplings, apart from what is energized, has one answer: the worst of what
        any of it meets."""
        pairs: list[tuple[int, int]] = []
        met: list[tuple[int, set[int]]] = []
        for islands in self._couplings:
            dark = [island for island in islands if self.rank[island] == NOT_ENERGIZED]
            pairs += pairwise(dark)
            if 0 < len(dark) < len(islands):
                met.append((dark[0], islands.difference(dark)))
        _, group = join(len(self.answers), np.array(pairs, dtype=np.int64))
        stations: dict[int, frozenset[str]] = {}
        machines: dict[int, frozenset[str]] = {}
        for island, energized in met:
            here = int(group[island])
            beside = (self.stations[other] for other in energized)
            stations[here] = stations.get(here, frozenset()).union(*beside)
        for island, found in enumerate(self._machines):
            if found and self.rank[island] == NOT_ENERGIZED:
                here = int(group[island])
                machines[here] = machines.get(here, frozenset()) | found
        for island, here in enumerate(group.tolist()):
            if self.rank[island] == NOT_ENERGIZED:
                if here in stations:
                    self.answers[island] = Answer.BACKFED
                    self.stations[island] = stations[here]
                elif here in machines:
                    self.answers[island] = Answer.GENERATOR
                    self._machines[island] = machines[here]

    def answer(self, node_id: str, phase: str) -> Answer:
        """The answer for a phase of a node; ValueError if there is none such."""
        return self.answers[self.island_of(node_id, phase)]

    def sources(self, node_id: str, phase: str) -> tuple[str, ...]:
        """Whose voltage it is, or may be: the stations, or for GENERATOR the customers' machines."""
        island = self.island_of(node_id, phase)
        return self._sources([island], self.answers[island])

    def _sources(self, islands: Iterable[int], answer: Answer) -> tuple[str, ...]:
        found = self._machines if answer is Answer.GENERATOR else self.stations
        return tuple(sorted(frozenset[str]().union(*(found[island] for island in islands))))

    def through(self, node_id: str, phase: str) -> tuple[tuple[Coupling, str], ...]:
        """The couplings that may put voltage on a node-phase that is BACKFED, each with the phases it comes
        from: those that are energized, else those that are possibly backfed themselves."""
        return self._through(self.island_of(node_id, phase))

    def _through(self, island: int) -> tuple[tuple[Coupling, str], ...]:
        if self.answers[island] is not Answer.BACKFED:
            return ()
        found = []
        for coupling, islands in zip(self.compiled.couplings, self._couplings, strict=True):
            if island in islands:
                others = [
                    (self.answers[there], self.compiled.points[point][1])
                    for point in coupling.members
                    if (there := int(self.island[point])) != island
                ]
                energized = {phase for answer, phase in others if answer is Answer.ENERGIZED}
                found.append((coupling, letters(energized or {phase for _, phase in others})))
        return tuple(found)

    def why(self, node_id: str, phase: str) -> str:
        """The answer in words, with what it rests on."""
        answer = self.answer(node_id, phase)
        names = ", ".join(self.sources(node_id, phase))
        if answer is Answer.ENERGIZED:
            return f"energized from {names}"
        if answer is Answer.GENERATOR:
            return f"a customer's generator may feed it: {names}"
        if answer is Answer.BACKFED:
            ways = " and ".join(
                f"from {in_words(phases)} through {coupling.kind} {coupling.id}"
                for coupling, phases in self.through(node_id, phase)
            )
            return f"may be energized {ways}: voltage not known"
        behind = ", ".join(self._behind(self.island_of(node_id, phase)))
        return f"de-energized by report{f': {behind} open' if behind else ''}"

    @cached_property
    def _states(self) -> dict[str, PremisesState]:
        return {
            premises: state
            for service in self.compiled.graph.services
            for state in (self._state(service),)
            for premises in service.premises
        }

    def premises(self) -> dict[str, PremisesState]:
        """The state of every premises. Worked out once a transformer, since its customers share it."""
        return dict(self._states)

    def _state(self, service: Service) -> PremisesState:
        feeds = (
            self._feed(transformer, phases, [self.islands[section] for section in sections])
            for (transformer, phases), sections in zip(service.served, service.feeds, strict=True)
        )
        return min(feeds, key=lambda feed: VOLTAGE[feed.answer])

    def _feed(self, transformer: Transformer, phases: str, islands: list[int]) -> PremisesState:
        """What one transformer gives on these secondary phases, which belong to these islands."""
        answer = together(self.answers[island] for island in islands)
        sources = self._sources(islands, answer)
        if answer is Answer.ENERGIZED:
            return PremisesState(answer, sources=sources)
        if not transformer.joins:
            # The letters of such a secondary are those of the primary it derives from: what was lost is
            # there.
            phases = transformer.phases
            islands = [self.island_of(transformer.primary_node, phase) for phase in phases]
        out = [
            (phase, island)
            for phase, island in zip(phases, islands, strict=True)
            if self.answers[island] is not Answer.ENERGIZED
        ]
        behind = {device for _, island in out for device in self._behind(island)}
        through = {coupling.id: None for _, island in out for coupling, _ in self._through(island)}
        return PremisesState(
            answer=answer,
            phases_out="".join(phase for phase, _ in out),
            behind=tuple(sorted(behind, key=self.compiled.device_order.__getitem__)),
            through=tuple(through),
            sources=sources,
        )

    @cached_property
    def _fence(self) -> dict[int, list[tuple[int, int]]]:
        """The graph of what is out: island -> (island beyond, switch that stands open), energized ones as
        one."""
        fence: dict[int, list[tuple[int, int]]] = {}
        for number in np.flatnonzero(~self.closed):
            a, b = (
                _LIVE if self.answers[island] is Answer.ENERGIZED else island
                for island in map(self.islands.__getitem__, self.compiled.graph.ends[number])
            )
            if a != b:
                fence.setdefault(a, []).append((b, int(number)))
                fence.setdefault(b, []).append((a, int(number)))
        return fence

    def _behind(self, island: int) -> tuple[str, ...]:
        """The open devices at the edge of a dead island from which a way leads on to what is energized."""
        if island not in self._cut_off:
            self._cut_off[island] = self._find_behind(island)
        return self._cut_off[island]

    def _find_behind(self, island: int) -> tuple[str, ...]:
        reached = {_LIVE}
        queue = deque([_LIVE])
        while queue:
            for beyond, _ in self._fence.get(queue.popleft(), ()):
                if beyond != island and beyond not in reached:
                    reached.add(beyond)
                    queue.append(beyond)
        cut = [
            self.compiled.switches[number]
            for beyond, number in self._fence.get(island, ())
            if beyond in reached
        ]
        moved = [switch for switch in cut if switch.phase in switch.device.closed]
        return tuple(dict.fromkeys(switch.device.id for switch in moved or cut))


def trace(compiled: Compiled, open_phases: Mapping[str, str]) -> Trace:
    """Answer for every node-phase and premises with the given phases of devices open and all others closed.

    `open_phases` is the whole state, normally-open devices included: device id -> letters. Raises ValueError
    for a device or phase that is not there. Cost: scipy connected components over the sections, then one pass
    over the couplings for each bank that voltage comes through; the premises are worked out when asked for.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "AB"), Node("tap", "AB")),
    ...     devices=(Device("C-1", "main", "tap", "AB", closed="AB"),),
    ...     sources=(Source("station", "main", "station", "AB"),)))
    >>> state = trace(compiled, {"C-1": "B"})
    >>> str(state.answer("tap", "A")), str(state.answer("tap", "B"))
    ('energized', 'de-energized by report')
    >>> state.why("tap", "B")
    'de-energized by report: C-1 open'
    """
    return Trace(compiled, open_phases)
