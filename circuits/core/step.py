"""What one switching step changes, found from the two sides of the switch and no further than it reaches."""

import heapq
from collections import deque
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from math import inf

from circuits.core.answers import VOLTAGE, Answer, together
from circuits.core.trace import NOT_ENERGIZED, Trace


@dataclass(frozen=True, slots=True)
class Change:
    """Sections that would all go from one answer to another."""

    sections: tuple[int, ...]
    before: Answer
    after: Answer


class Step:
    """The answers after some switches open, or close, in a state. Make it with `step`.

    A *part* is an island of the state, or a piece that one would lose: such a piece has a number of its own,
    after those of the islands. Islands that would become one keep their numbers.
    """

    def __init__(self, state: Trace, switches: Collection[int], *, opens: bool) -> None:
        self.state = state
        self._graph = state.compiled.graph
        self._islands = len(state.answers)
        self._opened: set[int] = set()
        self._part_of: dict[int, int] = {}  # the sections of pieces
        self._pieces: list[list[int]] = []
        self._split_from: list[int] = []  # the island that each piece was of
        self._with: dict[int, list[int]] = {}  # an island that is joined to others -> all of these
        self._out: set[int] = set()  # parts that are no longer energized
        self._lit: set[int] = set()  # parts that now are
        self._answers: dict[int, Answer] = {}
        moved = [number for number in switches if state.is_closed[number] == opens]
        for part in self._open(moved) if opens else self._close(moved):
            if part not in self._answers and not self._is_energized(part):
                self._judge(part)
        self._answers |= dict.fromkeys(self._lit, Answer.ENERGIZED)

    # What a step is asked for.

    def answer(self, section: int) -> Answer:
        """The answer of a section after the step."""
        part = self._part(section)
        return self._answers[part] if part in self._answers else self.state.answers[self._island(part)]

    @cached_property
    def changes(self) -> tuple[Change, ...]:
        """The parts that would have another answer, in no order."""
        return tuple(
            Change(tuple(self._sections(part)), before, after)
            for part, after in self._answers.items()
            if (before := self.state.answers[self._island(part)]) is not after
        )

    @cached_property
    def services(self) -> dict[int, tuple[Answer, Answer]]:
        """The number of each service (`SectionGraph.services`) that would have another answer: before and
        after."""
        graph, state = self._graph, self.state
        found = {}
        for number in self.touched:
            feeds = graph.services[number].feeds
            before = _best(together(state.answers[state.islands[one]] for one in feed) for feed in feeds)
            after = _best(together(map(self.answer, feed)) for feed in feeds)
            if before is not after:
                found[number] = before, after
        return found

    @cached_property
    def touched(self) -> set[int]:
        """The services of which a phase would have another answer."""
        at = self._graph.services_at
        return {service for change in self.changes for section in change.sections for service in at[section]}

    # Parts.

    def _part(self, section: int) -> int:
        part = self._part_of.get(section)
        return self.state.islands[section] if part is None else part

    def _island(self, part: int) -> int:
        """The island that a part is, or was of."""
        return part if part < self._islands else self._split_from[part - self._islands]

    def _sections(self, part: int) -> Iterable[int]:
        if part >= self._islands:
            piece = self._pieces[part - self._islands]
            return [section for section in piece if self._part_of[section] == part]
        sections = self.state.sections_of[part]
        if part in self._split_from:
            return [section for section in sections if section not in self._part_of]
        return sections

    def _rank(self, part: int) -> int:
        return self.state.rank[self._island(part)]

    def _is_energized(self, part: int) -> bool:
        return part in self._lit or (self._rank(part) != NOT_ENERGIZED and part not in self._out)

    # Opening.

    def _open(self, moved: Iterable[int]) -> set[int]:
        """The parts that may have another answer."""
        halves = set()
        for number in moved:
            self._opened.add(number)
            if piece := self._smaller_side(*self._graph.ends[number]):
                part, new = self._part(piece[0]), self._islands + len(self._pieces)
                self._split_from.append(self._island(part))
                self._pieces.append(piece)
                self._part_of.update(dict.fromkeys(piece, new))
                halves |= {part, new}
        self._lose_supply(halves)
        return self._out | halves

    def _smaller_side(self, a: int, b: int) -> list[int]:
        """The sections on that side of an open switch which is sooner searched; none if there is a way round.

        The sides are searched in turn, switch by switch: the cost is twice that of the smaller.
        """
        if a == b:
            return []
        sides = [a], [b]
        search, other = self._spread(sides[0]), self._spread(sides[1])
        met = {a}, {b}
        here = 0
        while True:
            section = next(search, None)
            if section is None:
                return sides[here]
            if section in met[1 - here]:
                return []
            if section not in met[here]:
                met[here].add(section)
                sides[here].append(section)
            search, other, here = other, search, 1 - here

    def _spread(self, reached: list[int]) -> Iterator[int]:
        """What closed switches lead to from sections that have been reached, these included as they grow."""
        is_closed, opened = self.state.is_closed, self._opened
        for section in reached:
            for number, beyond in self._graph.ways[section]:
                if is_closed[number] and number not in opened:
                    yield beyond

    def _lose_supply(self, halves: Iterable[int]) -> None:
        """Find what has no station and no whole bank any more, from the stations outward: a part counts on a
        bank only if that is nearer to a station, and at last on any."""
        waiting = [(self._rank(part), part) for part in halves if self._is_energized(part)]
        heapq.heapify(waiting)
        while waiting:
            rank, part = heapq.heappop(waiting)
            if part in self._out or self._is_supplied(part, rank):
                continue
            self._out.add(part)
            for secondary in self._fed_from(part):
                if self._rank(secondary) > rank:
                    heapq.heappush(waiting, (self._rank(secondary), secondary))
        while again := {part for part in self._out if self._is_supplied(part, inf)}:
            self._out -= again

    def _is_supplied(self, part: int, rank: float) -> bool:
        """Whether a part has a station in it, or a bank that is whole by what is of lower rank."""
        island = self._island(part)
        if any(self._part(section) == part for section in self.state.stations_in.get(island, ())):
            return True
        graph = self._graph
        return any(
            any(self._part(section) == part for section in graph.secondary[bank])
            and all(
                self._is_energized(primary) and self._rank(primary) < rank
                for primary in map(self._part, graph.primary[bank])
            )
            for bank in self.state.fed_by.get(island, ())
        )

    def _fed_from(self, part: int) -> Iterator[int]:
        """The parts on the secondaries of the banks at a part."""
        graph = self._graph
        for section in self._sections(part):
            for number in graph.couplings[section]:
                if section in graph.primary[number]:
                    yield from map(self._part, graph.secondary[number])

    # Closing.

    def _close(self, moved: Iterable[int]) -> set[int]:
        """The parts that may have another answer."""
        for number in moved:
            joined = [
                self._with.get(island, [island]) for island in map(self._part, self._graph.ends[number])
            ]
            if joined[0][0] != joined[1][0]:
                both = joined[0] + joined[1]
                self._with.update(dict.fromkeys(both, both))
        beside = set(self._with)
        dark = deque(part for part in self._with if any(map(self._is_energized, self._with[part])))
        while dark:
            part = dark.popleft()
            if self._is_energized(part):
                continue
            self._lit.add(part)
            dark.extend(self._with.get(part, ()))
            for section in self._sections(part):
                for number in self._graph.couplings[section]:
                    beside.update(map(self._part, self._graph.members[number]))
                    if section in self._graph.primary[number] and all(
                        self._is_energized(self._part(one)) for one in self._graph.primary[number]
                    ):
                        dark.extend(map(self._part, self._graph.secondary[number]))
        return beside

    # What is not energized.

    def _judge(self, part: int) -> None:
        """Give a part, and all that hangs together with it over couplings, the worst of what any of it
        meets."""
        graph = self._graph
        answer = Answer.DEENERGIZED
        group = {part: None}
        queue = deque(group)
        while queue:
            part = queue.popleft()
            beside = set(self._with.get(part, ()))
            for section in self._sections(part):
                if section in graph.machines:
                    answer = min(answer, Answer.GENERATOR, key=VOLTAGE.__getitem__)
                for number in graph.couplings[section]:
                    beside.update(map(self._part, graph.members[number]))
            for other in beside:
                if self._is_energized(other):
                    answer = Answer.BACKFED
                elif other not in group:
                    group[other] = None
                    queue.append(other)
        self._answers |= dict.fromkeys(group, answer)


def step(state: Trace, switches: Collection[int], *, opens: bool) -> Step:
    """What changes when these switches (numbers in `Compiled.switches`) open, or close, all at once.

    Cost: opening, a search of the smaller side of each switch; then, and for closing, of what loses or gains
    supply and of what is coupled to that. The rest of the network is not looked at. Nothing changes where all
    stand so already.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> from circuits.core.trace import trace
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> opened = step(trace(compiled, {}), [compiled.switch["C-1", "A"]], opens=True)
    >>> [str(change.after) for change in opened.changes]
    ['de-energized by report']
    """
    return Step(state, switches, opens=opens)


def _best(feeds: Iterable[Answer]) -> Answer:
    """What premises have by the better of their feeds."""
    return min(feeds, key=VOLTAGE.__getitem__)
