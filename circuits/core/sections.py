"""The section graph as plain lists, for searches that look at a few sections only.

numpy answers for the whole network in milliseconds, but for one section at a time it is slower than a list.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from circuits.core.values import Premises, Transformer, served_by

if TYPE_CHECKING:
    from circuits.core.network import Compiled

Sections = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Service:
    """Premises that are served alike: by which transformers on which secondary phases, and in which sections
    these are."""

    premises: tuple[str, ...]
    served: tuple[tuple[Transformer, str], ...]
    feeds: tuple[Sections, ...]


class SectionGraph:
    """What lies in each section and between them, by the numbers of sections, switches and couplings.

    `ways` has for each section the switches at it, each with the section beyond; `couplings` the couplings
    with a member in it; `members`, `primary` and `secondary` the sections of each coupling, once each;
    `size` how many node-phases a section has; `services_at` the services in it. `stations` and `machines`
    have the sections with stations, and with machines that no transfer switch on record keeps off. Cost: one
    pass over the switches, the couplings and the premises.
    """

    def __init__(self, compiled: "Compiled") -> None:
        section = compiled.section.tolist()
        empty: list[tuple[int, int]] = []
        self.ends: list[tuple[int, int]] = [(a, b) for a, b in compiled.switch_ends.tolist()]
        self.ways = [list(empty) for _ in range(compiled.sections)]
        for number, (a, b) in enumerate(self.ends):
            self.ways[a].append((number, b))
            self.ways[b].append((number, a))
        self.size: list[int] = np.bincount(compiled.section, minlength=compiled.sections).tolist()

        def among(points: Iterable[int]) -> Sections:
            return tuple(dict.fromkeys(section[point] for point in points))

        self.members = [among(coupling.members) for coupling in compiled.couplings]
        self.primary = [among(coupling.primary) for coupling in compiled.couplings]
        self.secondary = [among(coupling.secondary) for coupling in compiled.couplings]
        self.couplings = _by_section(compiled.sections, self.members)
        found = compiled.sources_at.items()
        self.stations = {
            place: ids
            for place, here in found
            if (ids := frozenset(source.id for source, _ in here if source.is_station))
        }
        self.machines = {
            place: ids
            for place, here in found
            if (ids := frozenset(one.id for one, _ in here if not one.is_station and not one.interlocked))
        }
        self.services = tuple(self._services(compiled, section))
        feeds = [tuple(dict.fromkeys(chain(*service.feeds))) for service in self.services]
        self.services_at = _by_section(compiled.sections, feeds)

    def out_of(self, section: int) -> Iterator[tuple[int, int]]:
        """What may lead out of a section, each with a section beyond: the number of a switch, or -1 - the
        number of a coupling."""
        yield from self.ways[section]
        for coupling in self.couplings[section]:
            for beyond in self.members[coupling]:
                yield -1 - coupling, beyond

    @cached_property
    def service_of(self) -> dict[str, int]:
        """The number of the service of each premises."""
        return {one: number for number, service in enumerate(self.services) for one in service.premises}

    @staticmethod
    def _services(compiled: "Compiled", section: list[int]) -> Iterable[Service]:
        alike: dict[tuple[tuple[str, ...], str], list[str]] = {}
        first: dict[tuple[tuple[str, ...], str], Premises] = {}
        for premises in compiled.network.premises:
            key = premises.transformers, premises.phases
            alike.setdefault(key, []).append(premises.id)
            first.setdefault(key, premises)
        for key, ids in alike.items():
            served = tuple(served_by(compiled.network, first[key]))
            feeds = tuple(
                tuple(section[compiled.index[transformer.secondary_node, phase]] for phase in phases)
                for transformer, phases in served
            )
            yield Service(tuple(ids), served, feeds)


def _by_section(sections: int, sections_of: Iterable[Sections]) -> list[list[int]]:
    found: list[list[int]] = [[] for _ in range(sections)]
    for number, here in enumerate(sections_of):
        for section in here:
            found[section].append(number)
    return found
