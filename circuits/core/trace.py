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
from numpy.typing import NDArray

from circuits.core.answers import VOLTAGE, Answer, PremisesState, together
from circuits.core.joining import Ints, join
from circuits.core.network import Compiled, Coupling
from circuits.core.values import Transformer, in_words, letters

__all__ = ["NOT_ENERGIZED", "Answer", "PremisesState", "Trace", "trace"]

ANSWERS = tuple(Answer)
NOT_ENERGIZED = -1
_LIVE = -1  # in the graph of what is out: everything that is energized, taken as one


class Trace:
    """The answers for one state of the devices. Make it with `trace`.

    An *island* is all the sections that hang together through closed switches; every answer belongs to one.
    """

    def __init__(self, compiled: Compiled, open_phases: Mapping[str, str]) -> None:
        self.compiled = compiled
        self.closed = compiled.closed(open_phases)
        islands, self._island = compiled.whole.islands(self.closed)
        self._rank: Ints = np.full(islands, NOT_ENERGIZED)
        self._rank[self._island[compiled.whole.stations]] = 0
        self._energize_through_banks()
        self._code = np.where(self._rank == NOT_ENERGIZED, VOLTAGE[Answer.DEENERGIZED], 0).astype(np.int8)
        self._beside: dict[int, set[int]] = {}
        """The energized islands from which each possibly backfed one may have its voltage."""
        self._machines: dict[int, frozenset[str]] = {}
        """The machines that may feed each island that a generator may feed."""
        self._judge_what_is_not_energized()
        self._cut_off: dict[int, tuple[str, ...]] = {}
        self._states: dict[int, PremisesState] = {}

    @cached_property
    def codes(self) -> NDArray[np.int8]:
        """The answer of every node-phase, as its place in `Answer`: shape (node-phases,)."""
        return self._code[self._island][self.compiled.section]

    # The state as plain lists, for searches of a few sections.

    @cached_property
    def islands(self) -> list[int]:
        """The island of each section."""
        return list(self._island.tolist())

    @cached_property
    def answers(self) -> list[Answer]:
        """The answer of each island."""
        return [ANSWERS[code] for code in self._code.tolist()]

    @cached_property
    def rank(self) -> list[int]:
        """How many banks stand between each island and a station, NOT_ENERGIZED for one that has none."""
        return list(self._rank.tolist())

    @cached_property
    def stations(self) -> list[frozenset[str]]:
        """The stations whose voltage each island has or, possibly backfed, may have."""
        found = [frozenset[str]()] * len(self._rank)
        for section, ids in self.compiled.graph.stations.items():
            found[self.islands[section]] |= ids
        grew = True
        while grew:
            grew = False
            for island, banks in self.fed_by.items():
                feeding = {one for bank in banks for one in self._among(self.compiled.graph.primary[bank])}
                through = found[island].union(*(found[one] for one in feeding))
                if through != found[island]:
                    found[island] = through
                    grew = True
        for island, energized in self._beside.items():
            found[island] = frozenset[str]().union(*(found[one] for one in energized))
        return found

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
        return self._island_at(self.compiled.point(node_id, phase))

    def _island_at(self, point: int) -> int:
        return int(self._island[self.compiled.section[point]])

    def _among(self, sections: Iterable[int]) -> set[int]:
        return {int(self._island[section]) for section in sections}

    def _energize_through_banks(self) -> None:
        """A bank or phase-to-phase unit whose primary phases are all energized energizes its secondary."""
        whole = self.compiled.whole
        fed = self._island[whole.secondary.sections]
        while True:
            rank = self._rank[self._island]
            by_bank = np.where(
                whole.primary.least(rank) == NOT_ENERGIZED, NOT_ENERGIZED, whole.primary.greatest(rank) + 1
            )
            given = by_bank.repeat(whole.secondary.sizes)
            newly = (given != NOT_ENERGIZED) & (self._rank[fed] == NOT_ENERGIZED)
            if not newly.any():
                return
            self._rank[fed[newly]] = given[newly]

    def _judge_what_is_not_energized(self) -> None:
        """What hangs together over couplings, apart from what is energized, has one answer: the worst of what
        any of it meets."""
        whole, graph = self.compiled.whole, self.compiled.graph
        touching = np.flatnonzero(whole.members.least(self._rank[self._island]) == NOT_ENERGIZED)
        pairs: list[tuple[int, int]] = []
        met: list[tuple[int, set[int]]] = []
        for number in touching.tolist():
            islands = self._among(graph.members[number])
            dark = [island for island in islands if self._rank[island] == NOT_ENERGIZED]
            pairs += pairwise(dark)
            if len(dark) < len(islands):
                met.append((dark[0], islands.difference(dark)))
        _, group = join(len(self._rank), np.array(pairs, dtype=np.int64))
        beside: dict[int, set[int]] = {}
        for island, energized in met:
            beside.setdefault(int(group[island]), set()).update(energized)
        machines: dict[int, frozenset[str]] = {}
        for section in whole.machines[self._rank[self._island[whole.machines]] == NOT_ENERGIZED].tolist():
            here = int(group[self._island[section]])
            machines[here] = machines.get(here, frozenset()) | graph.machines[section]
        for island in np.flatnonzero(self._rank == NOT_ENERGIZED).tolist():
            here = int(group[island])
            if here in beside:
                self._code[island] = VOLTAGE[Answer.BACKFED]
                self._beside[island] = beside[here]
            elif here in machines:
                self._code[island] = VOLTAGE[Answer.GENERATOR]
                self._machines[island] = machines[here]

    def answer(self, node_id: str, phase: str) -> Answer:
        """The answer for a phase of a node; ValueError if there is none such."""
        return ANSWERS[int(self._code[self.island_of(node_id, phase)])]

    def sources(self, node_id: str, phase: str) -> tuple[str, ...]:
        """Whose voltage it is, or may be: the stations, or for GENERATOR the customers' machines."""
        island = self.island_of(node_id, phase)
        return self._sources([island], self.answers[island])

    def _sources(self, islands: Iterable[int], answer: Answer) -> tuple[str, ...]:
        if answer is Answer.GENERATOR:
            found = (self._machines.get(island, frozenset()) for island in islands)
        else:
            found = (self.stations[island] for island in islands)
        return tuple(sorted(frozenset[str]().union(*found)))

    def through(self, node_id: str, phase: str) -> tuple[tuple[Coupling, str], ...]:
        """The couplings that may put voltage on a node-phase that is BACKFED, each with the phases it comes
        from: those that are energized, else those that are possibly backfed themselves."""
        return self._through(self.island_of(node_id, phase))

    def _through(self, island: int) -> tuple[tuple[Coupling, str], ...]:
        if self.answers[island] is not Answer.BACKFED:
            return ()
        found = []
        touching = self._island[self.compiled.whole.members.sections] == island
        for number in np.unique(self.compiled.whole.members.group[touching]).tolist():
            coupling = self.compiled.couplings[number]
            others = [
                (self.answers[there], self.compiled.points[point][1])
                for point in coupling.members
                if (there := self._island_at(point)) != island
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

    def premises(self) -> dict[str, PremisesState]:
        """The state of every premises. Cost: worked out once for all that are served alike; ask for
        `not_energized` or `supply_of` where that is enough."""
        return self._of_services(range(len(self.compiled.graph.services)))

    def not_energized(self) -> dict[str, PremisesState]:
        """The state of those premises whose supply is not energized on all its phases."""
        code = self._code[self._island].astype(np.int64)
        touched = np.flatnonzero(self.compiled.whole.feeds.greatest(code))
        found = self._of_services(touched.tolist())
        return {one: state for one, state in found.items() if state.answer is not Answer.ENERGIZED}

    def without_supply(self) -> frozenset[str]:
        """The ids of `not_energized`, without the reasons, at a tenth of its cost."""
        code = self._code[self._island].astype(np.int64)
        touched = np.flatnonzero(self.compiled.whole.feeds.greatest(code)).tolist()
        services = self.compiled.graph.services
        return frozenset(
            one
            for number in touched
            if len(services[number].feeds) == 1 or self._state(number).answer is not Answer.ENERGIZED
            for one in services[number].premises
        )

    def supply_of(self, premises_id: str) -> PremisesState | None:
        """The state of one premises; None if there is none such."""
        number = self.compiled.graph.service_of.get(premises_id)
        return None if number is None else self._state(number)

    def _of_services(self, numbers: Iterable[int]) -> dict[str, PremisesState]:
        services = self.compiled.graph.services
        found = {}
        for number in numbers:
            found.update(dict.fromkeys(services[number].premises, self._state(number)))
        return found

    def _state(self, number: int) -> PremisesState:
        if number not in self._states:
            service = self.compiled.graph.services[number]
            feeds = (
                self._feed(transformer, phases, [self.islands[section] for section in sections])
                for (transformer, phases), sections in zip(service.served, service.feeds, strict=True)
            )
            self._states[number] = min(feeds, key=lambda feed: VOLTAGE[feed.answer])
        return self._states[number]

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
