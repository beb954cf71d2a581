"""One feeder: its main along a street, taps into the side streets, and roads into the country beyond.

station =B= o--o--N--o--o--R--o--o--N--o ........ R--reg--o-----o-----o-----o  (tail)
               |     |  |     |  |                        |     |     |
              taps, banks, a cable loop                  country roads
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain, cycle
from random import Random

from circuits.utility import conductors
from circuits.utility.customers import Customers, unit_size
from circuits.utility.ground import Names, Point, Street, groups, place, share
from circuits.utility.plant import Plant, Spot, Unit

SPAN, COUNTRY_SPAN, PAD_TO_PAD = 45.0, 70.0, 55.0
FIRST_POLE, TOWN_EDGE, OUTER_END, INNER_END = (
    100.0,
    1700.0,
    3500.0,
    5300.0,
)  # from the station, along the river
COUNTRY = 0.3  # the part of the customers who live there

# Three-phase customers get these in turn: connection, phases of the primary, kV of the secondary.
_BANKS = (
    ("wye_grounded-wye_grounded", 3, 0.208),
    ("wye_grounded-delta", 3, 0.48),
    ("open_wye-open_delta", 2, 0.24),
    ("delta-wye_grounded", 3, 0.48),
    ("wye-wye", 3, 0.208),
)
_RARE = ("phase_to_phase", 2, 0.24)


@dataclass(frozen=True)
class Works:
    """What all feeders are built with."""

    plant: Plant
    customers: Customers
    names: Names
    rng: Random
    banks: Iterator[tuple[str, int, float]] = field(default_factory=lambda: chain([_RARE], cycle(_BANKS)))
    single: Iterator[str] = field(default_factory=lambda: cycle("ABC"))
    pairs: Iterator[str] = field(default_factory=lambda: cycle(("AB", "BC", "AC")))


@dataclass
class Feeder:
    """Where it lies, and after `build` its poles in town (`main`) and in the country (`tail`).

    `head` is where it begins, u and v its station on the squared paper, `side` -1 to the west of that and 1
    to the east, `bank` the side of the river (1 north), `outer` whether the main lies away from the river.
    """

    works: Works
    head: Spot
    locality: str
    u: float
    v: float
    side: int
    bank: int
    outer: bool
    main: list[Spot] = field(default_factory=list)
    tail: list[Spot] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.plant, self.rng = self.works.plant, self.works.rng
        self.circuit = self.head.circuit
        self.v += self.bank * (360 if self.outer else 20)
        self.away = self.bank if self.outer else -self.bank  # from the other main: where long taps go

    def build(self, customers: int, first: float = FIRST_POLE) -> None:
        """All of it, for so many customers; it has some from `first` metres on."""
        in_town, in_country = share(customers, (1 - COUNTRY, COUNTRY))
        on_main, on_taps = share(in_town, (12, 88))
        self._build_main(first)
        crossings = [1]
        while crossings[-1] < len(self.main) - 3:
            crossings.append(crossings[-1] + self.rng.choice((2, 2, 3)))
        self._serve_main(on_main, crossings)
        self._serve_side_streets(on_taps, crossings)
        self._build_tail()
        self._serve_country(in_country)

    def _street(self) -> Street:
        return self.works.names.street(self.locality)

    def _to(self, before: Spot, u: float, v: float, conductor: str, street: Street) -> Spot:
        return self.plant.span(before, place(u, v), conductor, street)

    def _u_of(self, spot: Spot) -> float:
        """The way back from the ground, for a pole of the main or tail."""
        return spot.at[0] - place(0, self.v)[0]

    def _build_main(self, first: float) -> None:
        spot, street = self.head, self._street()
        if self.outer and first == FIRST_POLE:
            for far in range(300, 0, -60):  # from the station, without customers
                at = self.u + self.side * 70, self.v - self.bank * far
                spot = self._to(spot, *at, conductors.MAIN, street)
        count = int((TOWN_EDGE - first) / SPAN)
        for number in range(count + 1):
            u = self.u + self.side * (first + number * SPAN)
            spot = self._to(spot, u, self.v, conductors.MAIN, street)
            if number in (count // 4, 3 * count // 4):
                label = f"switch of feeder {self.circuit}"
                spot = self._in_line(spot, f"N-{self.plant.next('N')}", "gang_switch", label)
            elif number == count // 2:
                spot = self._in_line(spot, f"R-{self.plant.next('R')}", "recloser", f"{street.name} recloser")
            self.main.append(spot)

    def _in_line(self, spot: Spot, name: str, kind: str, label: str) -> Spot:
        beyond = self.plant.node(spot, f"P-{spot.number}m")
        return self.plant.device(spot, name, kind, beyond, label=label)

    def _serve_main(self, customers: int, crossings: list[int]) -> None:
        """By turns banks and single units on the poles between crossings; then a capacitor."""
        free = [number for number in range(len(self.main) - 2) if number not in crossings]
        counts = share(customers, [(1, 4)[turn % 2] for turn in range(len(free))])
        for turn, (number, count) in enumerate(zip(free, counts, strict=True)):
            if count and turn % 2:
                self._homes(self.main[number], next(self.works.single), count)
            elif count:
                connection, phases, kv = next(self.works.banks)
                on = "ABC" if phases == 3 else next(self.works.pairs)
                size = self.rng.choice((15, 25, 25, 37.5, 50))
                bank = self.plant.transformer(self.main[number], on, size, connection, kv)
                self.works.customers.firms(bank, count)
        self._capacitor(self.main[-2])

    def _homes(self, spot: Spot, phase: str, homes: int) -> Unit:
        unit = self.plant.transformer(spot, phase, unit_size(homes, kva_each=2.8))
        self.works.customers.homes(unit, homes)
        return unit

    def _capacitor(self, spot: Spot) -> None:
        """Behind cutouts, or on every other feeder behind a switch that works by itself."""
        switched, name = int(self.circuit) % 2 == 0, f"K-{spot.number}"
        beyond = self.plant.node(spot, f"P-{spot.number}k")
        if switched:
            label = "capacitor switch"
            self.plant.device(spot, name, "enclosed_switch", beyond, remote=True, label=label)
        else:
            self.plant.device(spot, name, "cutout", beyond, link="15K", label="capacitor cutouts")
        self.plant.rows.add(
            "capacitors",
            capacitor_id=f"CAP-{spot.number}", node_id=beyond.node, phases="ABC", device_id=name,
            kvar=self.rng.choice((300, 450, 600)), connection="wye" if switched else "wye_grounded",
        )  # fmt: skip

    def _serve_side_streets(self, customers: int, crossings: list[int]) -> None:
        """Toward the other main all are short; away from it every third is long, and the last two are joined
        by a cable."""
        streets = {number: self._street() for number in crossings}
        *long, start, end = *crossings[1:-2:3], *crossings[-2:]
        weights = [18] * len(long) + [10] + [1.6] * len(crossings)
        shares = iter(share(customers, [weight * self.rng.uniform(0.8, 1.2) for weight in weights]))
        for number in long:
            self._long_tap(self.main[number], streets[number], next(shares))
        self._loop(self.main[start], self.main[end], streets[start], next(shares))
        for number in crossings:
            self._short_tap(self.main[number], streets[number], next(shares))

    def _short_tap(self, spot: Spot, street: Street, customers: int) -> None:
        if not customers:
            return
        phases = self.rng.choices((next(self.works.single), next(self.works.pairs), "ABC"), (70, 12, 18))[0]
        here = self.plant.tap(spot, phases, "S" if self.away > 0 else "N", "25K", f"{street.name} tap")
        for number, homes in enumerate(groups(customers, 6, 10, self.rng), start=1):
            at = self._u_of(spot), self.v - self.away * number * SPAN
            here = self._to(here, *at, conductors.TAP, street)
            self._homes(here, phases[number % len(phases)], homes)

    def _long_tap(self, spot: Spot, street: Street, customers: int) -> None:
        """Of two or three phases, with a single-phase street to the left and right of every other pole."""
        phases = self.rng.choice(("ABC", next(self.works.pairs)))
        here = self.plant.tap(spot, phases, "", "40K", f"{street.name} tap")
        u, v = self._u_of(spot), self.v
        for number, homes in enumerate(groups(customers, 7, 13, self.rng)):
            if number % 2 == 0:
                for _ in range(2):
                    v += self.away * SPAN
                    here = self._to(here, u, v, conductors.TAP, street)
            self._side_street(here, u, v, phases[number % len(phases)], number % 2 * 2 - 1, homes)

    def _side_street(self, spot: Spot, u: float, v: float, phase: str, way: int, customers: int) -> None:
        street = self._street()
        here = self.plant.tap(spot, phase, "E" if way > 0 else "W", "15K", f"{street.name} tap")
        units = []
        for homes in groups(customers, 6, 10, self.rng):
            for _ in range(self.rng.randint(1, 2)):
                u += way * SPAN
                here = self._to(here, u, v, conductors.SINGLE_TAP, street)
            units.append(self._homes(here, phase, homes))
        if len(units) > 1 and self.rng.random() < 0.2:
            one, other = units[:2]
            label = f"secondary tie {one.id}/{other.id}"
            self.plant.device(one.spot, f"S-{one.spot.number}", "secondary_tie", other.spot, label=label)

    def _loop(self, start: Spot, end: Spot, street: Street, customers: int) -> None:
        """A single-phase cable between two poles, by elbows from pad to pad; the middle one stands parked."""
        plant, phase = self.plant, next(self.works.single)
        here, last = (
            plant.tap(spot, phase, "", "25K", f"{street.name} cable riser") for spot in (start, end)
        )
        counts = list(groups(customers, 7, 12, self.rng))
        spots = self._horseshoe(self._u_of(start), self._u_of(end), len(counts))
        for number, (at, homes) in enumerate(zip(spots, counts, strict=True)):
            bus = plant.pole(here, at, phases=phase, kind="pad", street=street)
            arriving, leaving = (plant.node(bus, f"{bus.structure}{letter}") for letter in "ab")
            plant.wire(here, arriving, conductors.SINGLE_CABLE, cable=True)
            parked = "open" if number == len(counts) // 2 else "closed"
            plant.device(bus, f"E-{bus.number}A", "elbow", arriving, label=f"elbow of {street.name}")
            plant.device(bus, f"E-{bus.number}B", "elbow", leaving, position=parked, label="far elbow")
            self._homes(bus, phase, homes)
            here = leaving
        plant.wire(here, last, conductors.SINGLE_CABLE, cable=True)

    def _horseshoe(self, out: float, back: float, pads: int) -> Iterator[Point]:
        """Out along one street and back along the next, for so many pads."""
        there = (pads + 1) // 2
        for number in range(pads):
            far = number + 1 if number < there else pads - number
            yield place(out if number < there else back, self.v + self.away * far * PAD_TO_PAD)

    def _build_tail(self) -> None:
        """On to the country, the inner main past the end of the outer one; a regulator on its third pole."""
        road = self.works.names.road(self.locality)
        spot = self._in_line(self.main[-1], f"R-{self.plant.next('R')}", "recloser", f"{road.name} recloser")
        for number in range(1, int(((OUTER_END if self.outer else INNER_END) - TOWN_EDGE) / COUNTRY_SPAN)):
            u = self.u + self.side * (TOWN_EDGE + number * COUNTRY_SPAN)
            spot = self._to(spot, u, self.v, conductors.COUNTRY_MAIN, road)
            if number == 3:
                spot = self._in_line(spot, f"DS-{spot.number}", "disconnect", "regulator disconnects")
                beyond = self.plant.node(spot, f"P-{spot.number}r")
                taps = " ".join(f"{1 + 0.00625 * self.rng.randint(0, 5):.5f}" for _ in "ABC")
                self.plant.rows.add(
                    "regulators",
                    regulator_id=f"VR-{spot.number}", from_node=spot.node, to_node=beyond.node, phases="ABC",
                    taps=taps, rating_a=328,
                )  # fmt: skip
                spot = beyond
            self.tail.append(spot)

    def _serve_country(self, customers: int) -> None:
        """Five roads off the far end of the tail: one of three phases, one of two, the others single."""
        phases = ("ABC", next(self.works.pairs), *(next(self.works.single) for _ in range(3)))
        for number, count in enumerate(share(customers, (4, 3, 2, 2, 2))):
            self._road(self.tail[-2 - 5 * number], phases[number], count)

    def _road(self, spot: Spot, phases: str, customers: int) -> None:
        rng, plant, road = self.rng, self.plant, self.works.names.road(self.locality)
        here = plant.node(spot, f"P-{spot.number}b", phases)
        if len(phases) == 1:
            label = f"{road.name} sectionalizer"
            plant.device(spot, f"SE-{spot.number}", "sectionalizer", here, label=label)
        else:
            label = f"{road.name} recloser"
            plant.device(spot, f"R-{plant.next('R')}", "recloser", here, remote=False, label=label)
        u, v, bend = self._u_of(spot), self.v, rng.uniform(30, 100)
        for number, homes in enumerate(groups(customers, 1, 3, rng)):
            for _ in range(rng.randint(2, 5)):
                v += self.bank * COUNTRY_SPAN
                at = u + bend * (1 - math.cos((v - self.v) / 900)), v
                here = self._to(here, *at, conductors.COUNTRY_TAP, road)
            farm, phase = here, phases[number % len(phases)]
            if rng.random() < 0.5:
                farm, way = plant.tap(here, phase, "", "10K", f"{road.name} spur"), rng.choice((-1, 1))
                for _ in range(rng.randint(1, 3)):
                    at = farm.at[0] + way * 55, farm.at[1] + 12
                    farm = plant.span(farm, at, conductors.SINGLE_TAP, road)
            unit = plant.transformer(farm, phase, unit_size(homes, kva_each=7))
            self.works.customers.homes(unit, homes, apart=60, back=40)
