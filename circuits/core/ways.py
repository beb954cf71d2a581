"""A way from a source to the limits as it is told: the things that it leads through, phase by phase."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from typing import NamedTuple

from circuits.core.network import Compiled, Link
from circuits.core.values import Source, letters

COUPLINGS = {
    "bank": "bank",
    "unit": "transformer",
    "load": "load",
    "capacitor": "capacitor",
    "customer": "service",
    "second feed": "second feed of",
}
"""The kinds of couplings, in words."""

Step = tuple[str, str, str]  # kind and id of a thing, and a phase


class Element(NamedTuple):
    """A thing on a way: "source", "node", "line", "device", "transformer", "regulator" or the kind of a
    coupling.

    `phase` has the letters of all the phases that go this way; where a coupling leads from one phase to
    another, it has those on the side of the source.
    """

    kind: str
    id: str
    phase: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """What lies on a way up to a crossing and over it, or up to the limits, on one phase. `device` is the one
    crossed, "" for none; `alike` a number that stretches over the same things have in common."""

    steps: tuple[Step, ...]
    device: str
    alike: int


@dataclass(frozen=True, slots=True)
class Way:
    """A way of one phase; the first stretch is the source and the node where it is."""

    source: Source
    stretches: tuple[Stretch, ...]

    @property
    def alike(self) -> tuple[int, ...]:
        """The same for ways over the same things, whatever the phase."""
        return tuple(stretch.alike for stretch in self.stretches)

    @property
    def phase(self) -> str:
        """The phase of the limits that it comes to."""
        return next(stretch for stretch in reversed(self.stretches) if stretch.steps).steps[-1][2]


@dataclass(frozen=True)
class LivePath:
    """A way from a source to the limits: `phases` are those of the limits that it reaches, `devices` those
    that it goes through, in order from the source. `ways` are those of its phases."""

    source_id: str
    phases: str
    devices: tuple[str, ...]
    ways: tuple[Way, ...] = field(default=(), repr=False, hash=False)

    @cached_property
    def over(self) -> tuple[Element, ...]:
        """The devices with the phases that go over each: those of `elements`, sooner found."""
        crossed = ([one.steps[-2] for one in way.stretches if one.device] for way in self.ways)
        return tuple(map(as_element, zip(*crossed, strict=True)))

    @cached_property
    def elements(self) -> tuple[Element, ...]:
        """All that it goes through, in order from the source: each thing, and each node after it."""
        return tuple(map(as_element, self.steps()))

    def steps(self) -> Iterator[tuple[Step, ...]]:
        """The same phase by phase, for who reads a few of the phases only."""
        ways = (chain.from_iterable(stretch.steps for stretch in way.stretches) for way in self.ways)
        return zip(*ways, strict=True)


def as_element(steps: Sequence[Step]) -> Element:
    """The thing that is the same step of several phases."""
    kind, name, phase = steps[0]
    return Element(kind, name, letters({phase for _, _, phase in steps}) if len(steps) > 1 else phase)


class Filling:
    """Fills in what ways lead through on a network.

    What many ways have in common is worked out once: they meet before they come to the limits.
    """

    def __init__(self, compiled: Compiled) -> None:
        self.compiled = compiled
        self._stretches: dict[tuple[int, int, int], tuple[Stretch, int]] = {}
        self._last: dict[tuple[int, frozenset[int]], Stretch] = {}
        self._alike: dict[tuple[tuple[str, str], ...], int] = {}

    def way(
        self, source: Source, start: int, crossed: Iterable[tuple[int, int]], goals: frozenset[int]
    ) -> Way:
        """The way of a source at the node-phase `start`: over crossings, each with the section beyond, to the
        nearest of the goals, which are node-phases."""
        node, phase = self.compiled.points[start]
        stretches = [self._stretch([("source", source.id, phase), ("node", node, phase)])]
        here = start
        for number, beyond in crossed:
            key = here, number, beyond
            if key not in self._stretches:
                self._stretches[key] = self._over(*key)
            stretch, here = self._stretches[key]
            stretches.append(stretch)
        if (here, goals) not in self._last:
            self._last[here, goals] = self._stretch(self._steps(self.compiled.way_inside(here, goals)))
        return Way(source, (*stretches, self._last[here, goals]))

    def _over(self, here: int, number: int, beyond: int) -> tuple[Stretch, int]:
        link = self.compiled.crossing(number, int(self.compiled.section[here]), beyond)
        steps = self._steps([*self.compiled.way_inside(here, {link.start}), link])
        return self._stretch(steps, link.id if link.kind == "device" else ""), link.end

    def _steps(self, links: Iterable[Link]) -> list[Step]:
        points = self.compiled.points
        found = []
        for link in links:
            node, phase = points[link.end]
            found += [(link.kind, link.id, points[link.start][1]), ("node", node, phase)]
        return found

    def _stretch(self, steps: list[Step], device: str = "") -> Stretch:
        things = tuple((kind, name) for kind, name, _ in steps)
        return Stretch(tuple(steps), device, self._alike.setdefault(things, len(self._alike)))


def merged(compiled: Compiled, ways: Iterable[Way]) -> tuple[LivePath, ...]:
    """Phases that go the same way become one path: stations come first, then fewest devices."""
    together: dict[tuple[int, ...], list[Way]] = {}
    for way in ways:
        together.setdefault(way.alike, []).append(way)
    paths = [_as_one(found) for found in together.values()]
    paths.sort(key=lambda path: (not compiled.network.source[path.source_id].is_station, len(path.devices)))
    return tuple(paths)


def _as_one(ways: Collection[Way]) -> LivePath:
    ways = sorted(ways, key=lambda way: way.stretches[0].steps[0][2])
    first = ways[0]
    devices = tuple(stretch.device for stretch in first.stretches if stretch.device)
    return LivePath(first.source.id, letters({way.phase for way in ways}), devices, tuple(ways))
