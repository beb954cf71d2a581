"""The proof of isolation: of every source on record, what keeps it out of the limits of a work clearance.

It promises nothing. What is blocked is blocked on the network as recorded, by devices as reported; what is
not on record is in no proof, which is why it says what it was computed from.
"""

import datetime
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, lru_cache

import numpy as np

from circuits.core.isolation import words
from circuits.core.joining import Ints
from circuits.core.network import Compiled
from circuits.core.proving.measures import Measure, doubtful, measure
from circuits.core.proving.opens import NEVER, Opened
from circuits.core.proving.origins import Further, Origins, Others
from circuits.core.proving.waysin import Reach, Reports, WayIn, WaysIn
from circuits.core.values import Source, in_words, letters
from circuits.core.ways import LivePath, Way, merged

Point = tuple[str, str]

ASSUMED = (
    (
        "Every device is taken as closed but on the phases that are reported open, made inoperable and under "
        "a tag of this clearance."
    ),
    (
        "Banks, units between phases, common cores, delta loads, ungrounded capacitors and services of "
        "several phases count as ways from one phase to another; every machine on record counts as running."
    ),
)
NOT_ON_RECORD = (
    (
        "What is not on record is not in this proof: a temporary jumper, a generator on an extension cord, a "
        "tie that nobody drew, a wire fallen on another, induced voltage, charge left on a capacitor or "
        "cable. Test for voltage and put the ground sets on."
    ),
)


class Status(StrEnum):
    """What can be said of a way, the loudest first."""

    NOT_BLOCKED = "not blocked"
    NOT_KNOWN = "cannot be known"
    BLOCKED = "blocked"


@dataclass(frozen=True, slots=True)
class Line:
    """A way by which a source comes to some phases of the limits, or is kept from them.

    `point` is the tagged point that blocks it, "" where nothing does; `measure` what would settle it, where
    it is not blocked. `opens` is how many devices that are reported open stand in a row on the weakest of
    all ways from this source, 0 for none. `further` are the other sources that come in the same way
    last, each with its own opens. `refuses`: a clearance may not be given past it; it may past a transfer
    switch on record and a source that the holder agreed on, which are told.
    """

    status: Status
    phases: str
    source: str
    path: LivePath
    words: str
    point: str
    opens: int
    measure: Measure | None
    further: Further
    refuses: bool

    @property
    def depth(self) -> str:
        """How far away the source is, in words.

        >>> path = LivePath("ST", "A", ())
        >>> Line(Status.BLOCKED, "A", "ST", path, "feeder 12 > C-1", "C-1", 1, None, (), False).depth
        'one open only: one device closed by mistake lets it in'
        """
        if self.opens == 0 and self.status is Status.BLOCKED:
            return "blocked this way only: it comes in by another"
        if self.opens == 0:
            return "no open stands between"
        if self.opens == 1:
            return "one open only: one device closed by mistake lets it in"
        return f"{self.opens} opens in a row"


@dataclass(frozen=True, slots=True)
class Proof:
    """`lines` come with what is not blocked first and what is blocked last. `faults` say what is wrong with
    the limits, `notes` what a person ought to look at besides. The rest is what it was computed from; `as_of`
    is the moment whose reports were used, None for no reports (a plan).
    """

    lines: tuple[Line, ...]
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    revision: int
    as_of: datetime.datetime | None
    assumed: tuple[str, ...] = ASSUMED
    not_on_record: tuple[str, ...] = NOT_ON_RECORD

    def of(self, status: Status) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.status is status)

    @property
    def stands(self) -> bool:
        """Whether every source on record is blocked, or of those that are only told."""
        return not self.faults and not any(line.refuses for line in self.lines)

    @property
    def broken(self) -> tuple[Line, ...]:
        """The lines past which no clearance may be given."""
        return tuple(line for line in self.lines if line.refuses)


def prove(
    compiled: Compiled,
    limits: Collection[Point],
    points: Mapping[str, str],
    opened: Opened | None = None,
    *,
    agreed: Collection[str] = (),
    as_of: datetime.datetime | None = None,
) -> Proof:
    """Of every phase of the limits each source, its way, and what blocks it.

    `limits` are (node, phases) pairs; `points` is device -> the phases that are reported open, made
    inoperable and tagged for this clearance; `opened` what is reported open at all (without it: what is
    normally open), in which the points are counted as well. `agreed` are sources that the holder has agreed
    to work with. A pole or a phase that is not there is a sentence among the faults, never an error: a proof
    of the rest is better than none. A point without its device or phase blocks with what is there.

    Cost: for each phase a pass over the sections that hang together when everything is closed; what stands
    open is looked at once for all clearances that are given the same `opened`.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "AB"), Node("tap", "AB")),
    ...     devices=(Device("C-1", "main", "tap", "AB", closed="AB"),),
    ...     sources=(Source("station", "main", "station", "AB"),)))
    >>> for line in prove(compiled, [("tap", "AB")], {"C-1": "A"}).lines:
    ...     print(line.phases, line.status, line.words, line.point, line.opens)
    B not blocked station station > C-1 (phase B)  0
    A blocked station station > C-1 (phase A) C-1 1
    """
    there = {
        device: letters(set(phases) & set(compiled.network.device[device].phases))
        for device, phases in points.items()
        if device in compiled.network.device
    }
    opened = (opened or Opened(compiled, compiled.network.normally_open)).with_also(there)
    inside, faults = _inside(compiled, limits)
    blocking = frozenset(compiled.numbers(there.items()))
    asked = _Asked(Reports(compiled, opened.switches, blocking), opened, frozenset(agreed))
    lines = tuple(asked.lines(inside))
    if not inside and not faults:
        faults = ("The limits touch nothing: they name no pole and no phase.",)
    notes = (*_unfed(inside, lines), *_idle(compiled, points, lines))
    return Proof(lines, faults, notes, compiled.network.revision, as_of)


def _inside(compiled: Compiled, limits: Collection[Point]) -> tuple[dict[str, set[int]], tuple[str, ...]]:
    """The node-phases of each phase, and a sentence for each that is not there."""
    inside: dict[str, set[int]] = {}
    faults: dict[str, None] = {}
    for node, phases in limits:
        for phase in phases:
            try:
                inside.setdefault(phase, set()).add(compiled.point(node, phase))
            except ValueError as error:
                faults[f"The limits can't be read on this network: {error}."] = None
    return {phase: found for phase, found in sorted(inside.items()) if found}, tuple(faults)


def _unfed(inside: Mapping[str, set[int]], lines: Collection[Line]) -> Iterator[str]:
    """A phase that nothing on record can reach is more likely drawn wrong than dead."""
    fed = {phase for line in lines for phase in line.phases}
    if left := letters(set(inside) - fed):
        yield (
            f"No source on record reaches {in_words(left)} of the limits, even with every device closed: "
            "look whether the record is right."
        )


def _idle(compiled: Compiled, points: Mapping[str, str], lines: Collection[Line]) -> Iterator[str]:
    at_work = {line.point for line in lines}
    for device in sorted(points):
        if device not in compiled.network.device:
            yield f"Point {device} is not on the network as it is now: it blocks nothing."
        elif points[device] and device not in at_work:
            yield f"Point {device} keeps no source on record out of these limits."


@dataclass(frozen=True, slots=True)
class _Said:
    """What a line says besides its way; phases that go one way and have this in common are one line."""

    status: Status
    opens: int
    refuses: bool
    point: str
    untagged: str


_KINDS = 8


@lru_cache(maxsize=2)
def _kinds(compiled: Compiled) -> Ints:
    """What is said alike of each source whatever the holder agreed on."""
    sources = compiled.network.sources
    return np.array([one.interlocked + 2 * doubtful(one) for one in sources], dtype=np.int64)


@dataclass(frozen=True)
class _Asked:
    """The search for one clearance."""

    reports: Reports
    opened: Opened
    agreed: frozenset[str]

    def lines(self, inside: Mapping[str, set[int]]) -> list[Line]:
        section = self.reports.compiled.section
        work = {phase: frozenset(section[list(goals)].tolist()) for phase, goals in inside.items()}
        limits = frozenset[int]().union(*work.values())
        ways: dict[tuple[_Said, tuple[int, ...]], list[Way]] = {}
        others: dict[tuple[_Said, tuple[int, ...]], list[Others]] = {}
        for phase, goals in inside.items():
            for said, way, also in self._of_a_phase(WaysIn(self.reports, work[phase], limits)):
                filled = self.reports.filled(way, frozenset(goals))
                alike = said, filled.alike
                ways.setdefault(alike, []).append(filled)
                others.setdefault(alike, []).append((phase, *also))
        found = [
            self._line(said, path, self._at.further(others[said, through]))
            for (said, through), alike_ways in ways.items()
            for path in merged(self.reports.compiled, alike_ways)
        ]
        return sorted(found, key=self._order)

    def _order(self, line: Line) -> tuple[object, ...]:
        station = self._source(line.source).is_station
        return list(Status).index(line.status), not station, line.opens, len(line.path.devices), line.words

    def _of_a_phase(self, search: WaysIn) -> Iterator[tuple[_Said, WayIn, tuple[Ints, Ints]]]:
        """The ways into one phase, each with what is said of it, and what else comes in that way: the opens
        before each and its place among the names."""
        opens = self._opens(search)
        near = search.nearest
        alike = (near.reach * _KINDS + self._kinds[near.source]) * len(near.gates) + near.gate
        _, first, which = np.unique(alike, return_index=True, return_inverse=True)
        # In the order of the first that comes in a way; of those that come in it the weakest, for all.
        of_a_station = self._at.is_station[near.source]
        order = np.lexsort((opens[near.source], ~of_a_station, first[which]))
        sizes = np.bincount(which)[np.argsort(first)]
        for end, size in zip(np.cumsum(sizes), sizes, strict=True):
            together = order[end - size : end]
            way = search.way(int(together[0]))
            rest = near.source[together[1:]]
            yield self._said(way, opens), way, (opens[rest], self._at.place[rest])
        for way in search.others():
            yield self._said(way, opens), way, (opens[:0], self._at.place[:0])

    def _said(self, way: WayIn, opens: Ints) -> _Said:
        status = self._status(way)
        # What stands open without a tag matters only where no point blocks.
        untagged = "" if status is Status.BLOCKED else self._last(way, self.reports.opened)
        point = self._last(way, self.reports.points)
        return _Said(status, int(opens[self._at.number[way.source]]), self._refuses(way), point, untagged)

    def _last(self, way: WayIn, switches: frozenset[int]) -> str:
        """The last device on a way that is one of these, "" for none."""
        crossed = [number for number in way.crossed if number in switches]
        return self.reports.compiled.switches[crossed[-1]].device.id if crossed else ""

    def _opens(self, search: WaysIn) -> Ints:
        """The fewest opens in a row between each source and the work."""
        return self._at.of_each(self.opened.between(search.work, self._at.section), NEVER)

    @property
    def _at(self) -> Origins:
        return self.reports.compiled.outward.origins

    @cached_property
    def _kinds(self) -> Ints:
        """What is said alike of sources that come in the same way."""
        agreed = [source.id in self.agreed for source in self._at.sources]
        return _kinds(self.reports.compiled) + 4 * np.array(agreed, dtype=np.int64)

    def _source(self, name: str) -> Source:
        return self.reports.compiled.network.source[name]

    def _refuses(self, way: WayIn) -> bool:
        told = self._source(way.source).interlocked or way.source in self.agreed
        return way.reach is not Reach.PAST_A_POINT and not told

    def _status(self, way: WayIn) -> Status:
        if way.reach is Reach.PAST_A_POINT:
            return Status.BLOCKED
        unsure = doubtful(self._source(way.source)) or way.source in self.agreed
        return Status.NOT_KNOWN if unsure or way.reach is Reach.NOT_KNOWN else Status.NOT_BLOCKED

    def _line(self, said: _Said, path: LivePath, further: Further) -> Line:
        compiled = self.reports.compiled
        settles = None
        if said.status is not Status.BLOCKED:
            agreed = path.source_id in self.agreed
            names = [source for source, _, _ in further]
            settles = measure(compiled, path, said.untagged, names, agreed=agreed)
        return Line(
            said.status,
            path.phases,
            path.source_id,
            path,
            words(compiled, path),
            said.point,
            said.opens,
            settles,
            further,
            said.refuses,
        )
