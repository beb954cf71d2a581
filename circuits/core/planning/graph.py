"""What a plan of isolation is decided on: the sections round the limits, with what can't matter merged.

A *place* is a section, or several of which no plan needs to part one from another: a lateral without limits,
source, tie or coupling is energized whenever the line is that it hangs on.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from circuits.core.network import Compiled
from circuits.core.planning.loading import Thing
from circuits.core.trace import Trace
from circuits.core.values import Device

ELSEWHERE = -1


@dataclass(frozen=True)
class Asked:
    """What the places are made for.

    `limits` are node-phases; devices `kept` are not operated, devices `shared` only opened as points; no new
    feed goes over the nodes `not_crossed`; of the sources `agreed` the limits need not be parted; the two
    ends of lines and regulators `parted` are places of their own. With `by_phase` a device that has a handle
    for each phase is operated so. Where what is left must be made to fit a tie a lateral may have to be
    opened: then nothing is `merged`.
    """

    compiled: Compiled
    state: Trace
    limits: tuple[int, ...]
    kept: Collection[str]
    shared: Collection[str]
    not_crossed: Collection[str]
    agreed: Collection[str]
    by_phase: bool
    parted: frozenset[Thing] = frozenset()
    merged: bool = True


@dataclass(frozen=True, slots=True)
class Unit:
    """What is operated at once: a device, or one phase of it. `closed` if any phase is; `usable` if a plan
    may open it, or tag it where it stands open; `tie` if a plan may close it; `shared` if it is opened as a
    point or not at all."""

    device: Device
    phases: str
    switches: tuple[int, ...]
    closed: bool
    usable: bool
    tie: bool
    shared: bool


@dataclass(frozen=True, slots=True)
class Edge:
    """Between two places, with the number of the link in `Loading.links`: a switch of a unit, or a line or
    regulator that can't be opened (`unit` -1). `ringed` if it lies in a loop by now."""

    unit: int
    a: int
    b: int
    closed: bool
    link: int
    ringed: bool


@dataclass(frozen=True, slots=True)
class Bank:
    """A bank or phase-to-phase unit between places; `ringed` if it stands in a loop by now."""

    primary: tuple[int, ...]
    secondary: tuple[int, ...]
    ringed: bool


@dataclass(frozen=True)
class Ground:
    """The places, numbered from 0, and what is between them; ELSEWHERE is all that lies farther away.

    `place` has the place of each node-phase that is looked at; `live` the places energized now, `stations`
    those with a station; `group` for each place the number of all that hangs together over couplings and
    what no plan may open, `inside` the groups of the limits, `machines` and `fed` those with customers'
    machines and with stations. `crossed` has the places that no new feed may cross, each with the places
    that are fed over it now. `served` has the premises that need one of several sets of places.
    """

    units: tuple[Unit, ...]
    edges: tuple[Edge, ...]
    banks: tuple[Bank, ...]
    place: Mapping[int, int]
    live: frozenset[int]
    stations: frozenset[int]
    group: tuple[int, ...]
    inside: frozenset[int]
    fed: frozenset[int]
    machines: Mapping[int, tuple[str, ...]]
    crossed: Mapping[int, frozenset[int]]
    served: Mapping[tuple[tuple[int, ...], ...], tuple[str, ...]]
