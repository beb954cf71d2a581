"""Which node-phases are energized as the devices are reported to stand, and which nobody may call
de-energized.

Over-warn, never under-warn: a node-phase is "de-energized by report" only when no source is joined to it
and no winding, machine or capacitor hangs between it and a live phase. The trace knows only what was
reported; it is no substitute for a visible open, a test for voltage and grounds.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np

from circuits.core.network import Compiled, Coupling, Ints, join, served_by
from circuits.core.values import Premises, in_words, letters

_LIVE = -1  # in the graph of what is out: everything that is energized, taken as one


class Answer(StrEnum):
    """What can be said of one phase of one node; ordered by how much voltage may be there."""

    ENERGIZED = "energized"
    BACKFED = "possibly backfed, voltage not known"
    GENERATOR = "a customer's generator may feed it"
    DEENERGIZED = "de-energized by report"


@dataclass(frozen=True, slots=True)
class PremisesState:
    """What a customer has. `phases_out` are the phases of the supply that are not energized, `behind` the
    open devices that cut them off (a device that is normally open only where nothing else is), `through`
    the banks and other couplings that may put voltage on them all the same.
    """

    answer: Answer
    phases_out: str = ""
    behind: tuple[str, ...] = ()
    through: tuple[str, ...] = ()

    @property
    def out(self) -> bool:
        """Nothing of the utility's reaches it. Possibly backfed is neither out nor in service."""
        return self.answer in (Answer.GENERATOR, Answer.DEENERGIZED)


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
        self._stations: list[frozenset[str]] = [frozenset()] * islands
        self._machines: list[frozenset[str]] = [frozenset()] * islands
        for section, found in compiled.sources_at.items():
            here = island_of_section[section]
            self._stations[here] |= {source.id for source, _ in found if source.is_station}
            self._machines[here] |= {
                source.id for source, _ in found if not source.is_station and not source.interlocked
            }
        # Each coupling with the islands of its members: the node-phases themselves no longer matter.
        self._couplings = [(coupling, self._islands(coupling.members)) for coupling in compiled.couplings]
        self._cut_off: dict[int, tuple[str, ...]] = {}
        self._energize_through_banks()
        self._answers = [Answer.ENERGIZED if stations else Answer.DEENERGIZED for stations in self._stations]
        self._spread(Answer.BACKFED, self._stations)
        self._answers = [
            Answer.GENERATOR if answer is Answer.DEENERGIZED and machines else answer
            for answer, machines in zip(self._answers, self._machines, strict=True)
        ]
        self._spread(Answer.GENERATOR, self._machines)

    def island_of(self, node_id: str, phase: str) -> int:
        """The number of the island that a phase of a node belongs to; ValueError if there is none such."""
        return int(self.island[self.compiled.point(node_id, phase)])

    def _islands(self, points: Iterable[int]) -> list[int]:
        return [int(self.island[point]) for point in points]

    def _energize_through_banks(self) -> None:
        """A bank or phase-to-phase unit whose primary phases are all energized energizes its secondary."""
        banks = [
            (self._islands(coupling.primary), self._islands(coupling.secondary))
            for coupling in self.compiled.couplings
            if coupling.secondary
        ]
        grew = True
        while grew:
            grew = False
            for primary, secondary in banks:
                if all(self._stations[island] for island in primary):
                    through = frozenset[str]().union(*(self._stations[island] for island in primary))
                    for island in secondary:
                        if not through <= self._stations[island]:
                            self._stations[island] |= through
                            grew = True

    def _spread(self, answer: Answer, sources: list[frozenset[str]]) -> None:
        """Carry voltage over every coupling to what is de-energized by tracing, as far as it goes."""
        grew = True
        while grew:
            grew = False
            for _, islands in self._couplings:
                live = [island for island in islands if self._answers[island] is not Answer.DEENERGIZED]
                if live and len(live) < len(islands):
                    through = frozenset[str]().union(*(sources[island] for island in live))
                    for island in set(islands) - set(live):
                        self._answers[island] = answer
                        sources[island] |= through
                        grew = True

    def answer(self, node_id: str, phase: str) -> Answer:
        """The answer for a phase of a node; ValueError if there is none such."""
        return self._answers[self.island_of(node_id, phase)]

    def sources(self, node_id: str, phase: str) -> tuple[str, ...]:
        """Whose voltage it is, or may be: the stations, or for GENERATOR the customers' machines."""
        island = self.island_of(node_id, phase)
        found = self._machines if self._answers[island] is Answer.GENERATOR else self._stations
        return tuple(sorted(found[island]))

    def through(self, node_id: str, phase: str) -> tuple[tuple[Coupling, str], ...]:
        """The couplings that may put voltage on a node-phase that is BACKFED, each with the phases it comes
        from: those that are energized, else those that are possibly backfed themselves."""
        return self._through(self.island_of(node_id, phase))

    def _through(self, island: int) -> tuple[tuple[Coupling, str], ...]:
        if self._answers[island] is not Answer.BACKFED:
            return ()
        found = []
        for coupling, islands in self._couplings:
            if island in islands:
                others = [
                    (self._answers[there], self.compiled.points[point][1])
                    for point, there in zip(coupling.members, islands, strict=True)
                    if there != island
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
        known: dict[tuple[str, str], PremisesState] = {}
        states = {}
        for premises in self.compiled.network.premises:
            key = (
                (premises.phases, premises.transformer)
                if not premises.second_transformer
                else ("", premises.id)
            )
            if key not in known:
                known[key] = self._state(premises)
            states[premises.id] = known[key]
        return states

    def premises(self) -> dict[str, PremisesState]:
        """The state of every premises. Worked out once a transformer, since its customers share it."""
        return dict(self._states)

    def _state(self, premises: Premises) -> PremisesState:
        feeds = [
            self._feed(transformer.id, phases)
            for transformer, phases in served_by(self.compiled.network, premises)
        ]
        return min(feeds, key=lambda feed: list(Answer).index(feed.answer))

    def _feed(self, transformer_id: str, phases: str) -> PremisesState:
        """What one transformer gives a premises on these secondary phases."""
        compiled = self.compiled
        transformer = compiled.network.transformer[transformer_id]
        islands = [self.island_of(transformer.secondary_node, phase) for phase in phases]
        answers = {self._answers[island] for island in islands}
        if answers == {Answer.ENERGIZED}:
            return PremisesState(Answer.ENERGIZED)
        if len(answers) == 1:
            answer = answers.pop()
        else:
            partly = answers & {Answer.ENERGIZED, Answer.BACKFED}
            answer = Answer.BACKFED if partly else Answer.GENERATOR
        if not transformer.joins:
            # The letters of such a secondary are those of the primary it derives from: what was lost is
            # there.
            phases = transformer.phases
            islands = [self.island_of(transformer.primary_node, phase) for phase in phases]
        out = [
            (phase, island)
            for phase, island in zip(phases, islands, strict=True)
            if self._answers[island] is not Answer.ENERGIZED
        ]
        behind = {device for _, island in out for device in self._behind(island)}
        through = {coupling.id: None for _, island in out for coupling, _ in self._through(island)}
        return PremisesState(
            answer=answer,
            phases_out="".join(phase for phase, _ in out),
            behind=tuple(sorted(behind, key=compiled.device_order.__getitem__)),
            through=tuple(through),
        )

    @cached_property
    def _fence(self) -> dict[int, list[tuple[int, int]]]:
        """The graph of what is out: island -> (island beyond, switch that stands open), energized ones as
        one."""
        fence: dict[int, list[tuple[int, int]]] = {}
        for number in np.flatnonzero(~self.closed):
            a, b = (
                _LIVE if self._answers[island] is Answer.ENERGIZED else island
                for island in self._islands(self.compiled.switches[number].ends)
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
