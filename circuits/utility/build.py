"""The whole utility: stations two by two along the river, one on each bank, and what joins their feeders."""

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path
from random import Random

from circuits.utility import conductors
from circuits.utility.customers import Customers
from circuits.utility.feeders import COUNTRY_SPAN, FIRST_POLE, OUTER_END, SPAN, TOWN_EDGE, Feeder, Works
from circuits.utility.ground import Names, Street, metres, place, share
from circuits.utility.plant import KV, Plant, Spot
from circuits.utility.rows import Rows, demo_rows

LEAST = 1000
_SEED = 1912  # any number; another makes another utility
_PER_FEEDER = 850
_NEXT_TOWN, _OTHER_BANK, _BRIDGE = 10_900.0, -1300.0, 600.0

# A feeder's last digit -> east of its station (1) or west, away from the river or not, as circuits/demo has
# 12 and 14. A station gets them in this order, the first one those of circuits/demo before others.
_LAID = {4: (1, False), 1: (-1, False), 2: (1, True), 3: (-1, True)}
_ORDER = {0: (2, 4, 1, 3)}
# Where those go on: from which pole, and how far from the station is the next one.
_GO_ON = {"12": ("P-224", 755.0), "14": ("P-282", 640.0)}


def build(folder: Path, customers: int = 3000) -> None:
    """Write the utility with exactly so many customers (`LEAST` or more) as a package into a folder.

    The same number gives the same bytes. Cost: 0.1 ms a customer; the memory does not grow with them.
    """
    if customers < LEAST:
        raise ValueError(f"the smallest utility has {LEAST} customers")
    rng = Random(_SEED)  # noqa: S311 -- nothing here is secret
    with Rows(folder) as rows:
        conductors.write(rows)
        plant = Plant(rows, rng)
        _Utility(Works(plant, Customers(plant, rng), Names(rng), rng)).build(customers)


class _Utility:
    """Feeders by station (from 0) and last digit."""

    def __init__(self, works: Works) -> None:
        self.works, self.plant, self.rows, self.names = works, works.plant, works.plant.rows, works.names
        self.feeders: dict[tuple[int, int], Feeder] = {}

    def build(self, customers: int) -> None:
        already = _served_by_the_demo()
        count = max(5, round(customers / _PER_FEEDER))
        stations = max(2, math.ceil(count / len(_LAID)))
        # The hospital is the one customer who belongs to no feeder.
        shares = share(customers - 1, [self.works.rng.uniform(0.9, 1.1) for _ in range(count)])
        for number, customers_of in enumerate(shares):
            station, turn = number % stations, number // stations
            if turn == 0 and station > 0:
                self._station(station)
            digit = _ORDER.get(station, tuple(_LAID))[turn]
            self._feeder(station, digit, customers_of - already[f"{station + 1}{digit}"])
        for row in demo_rows("transformers"):
            spot = _demo_pole(row["structure_id"], "")
            secondary = replace(spot, node=row["secondary_node"], phases=row["phases"])
            self.plant.load(secondary, 0.6 * float(row["kva"]))
        self._ties(stations)
        self._hospital(self.feeders[0, 4], self.feeders[1, 4])

    def _station(self, station: int) -> None:
        name, street = f"ST-{station + 1}", self.names.street(self.names.town(station))
        self.plant.structure(name, "station", f"{street.name} station", place(*_where(station)), street)
        self.rows.add("nodes", node_id=name, structure_id=name, nominal_kv=KV, phases="ABC")
        self.rows.add(
            "sources",
            source_id=name, node_id=name, kind="station", phases="ABC", kv=KV, angle_deg=0, per_unit="1.02",
            capacity_kva=10000, fault_mva_3ph=120, fault_mva_1ph=105, xr1=8, xr0=6,
            parallel_group=f"station {station + 1}", means_of_disconnection="visible",
        )  # fmt: skip

    def _feeder(self, station: int, digit: int, customers: int) -> None:
        circuit, locality = f"{station + 1}{digit}", self.names.town(station)
        if circuit in _GO_ON:
            pole, first = _GO_ON[circuit]
            head = _demo_pole(pole, circuit)
        else:
            head, first = self._breaker(station, circuit, locality), FIRST_POLE
        side, outer = _LAID[digit]
        bank = -1 if station % 2 else 1
        feeder = Feeder(self.works, head, locality, *_where(station), side=side, bank=bank, outer=outer)
        feeder.build(customers, first)
        self.feeders[station, digit] = feeder

    def _breaker(self, station: int, circuit: str, locality: str) -> Spot:
        self.rows.add(
            "circuits",
            circuit_id=circuit, name=f"feeder {circuit}", nominal_kv=KV, grounding="multigrounded_wye",
            normal_limit_a=400, emergency_limit_a=480,
        )  # fmt: skip
        name, at = f"ST-{station + 1}", place(*_where(station))
        bus = Spot(circuit, name, name, "ABC", at, circuit, Street("", locality))
        beyond = self.plant.node(bus, f"B-{circuit}")
        return self.plant.device(bus, beyond.node, "breaker", beyond, label=f"feeder {circuit} breaker")

    def _ties(self, stations: int) -> None:
        """Normally open: in the country between two feeders of a station, over the bridges, from town to
        town."""
        for station in range(stations):
            for outer, inner in ((2, 4), (3, 1)):
                self._tie((station, outer), OUTER_END, (station, inner), OUTER_END)
            if station % 2 == 0:
                for digit in (1, 4):
                    self._tie((station, digit), _BRIDGE, (station + 1, digit), _BRIDGE)
            self._tie((station, 4), math.inf, (station + 2, 1), math.inf)

    def _tie(self, one: tuple[int, int], far: float, other: tuple[int, int], as_far: float) -> None:
        """From a pole of one feeder, so far from its station, to one of the other, if there are both."""
        if one not in self.feeders or other not in self.feeders:
            return
        a, b = self.feeders[one], self.feeders[other]
        start, end = _pole(a, far), _pole(b, as_far)
        label = f"tie of feeders {a.circuit} and {b.circuit}"
        here = self.plant.node(start, f"P-{start.number}x")
        name = f"N-{self.plant.next('N')}"
        self.plant.device(start, name, "gang_switch", here, position="open", label=label)
        here = replace(here, circuit=b.circuit)
        street, spans = self.names.street(a.locality), max(1, round(math.dist(start.at, end.at) / SPAN))
        for number in range(1, spans):
            east, north = (s + (e - s) * number / spans for s, e in zip(start.at, end.at, strict=True))
            here = self.plant.span(here, (east, north), conductors.MAIN, street)
        self.plant.wire(here, end, conductors.MAIN)

    def _hospital(self, one: Feeder, other: Feeder) -> None:
        """On feeders of both stations, each by a cable, a cabinet and a transformer of its own."""
        plant, street, units = self.plant, self.names.street(one.locality), []
        east, north = _pole(one, _BRIDGE + SPAN).at
        for number, feeder in enumerate((one, other)):
            riser, at = _pole(feeder, _BRIDGE + SPAN), (east + 20, north - 60 - 30 * number)
            below = plant.node(riser, f"P-{riser.number}h")
            plant.device(riser, f"DS-{riser.number}", "disconnect", below, label="hospital cable riser")
            cabinet = plant.pole(below, at, kind="cabinet", street=street)
            plant.wire(below, cabinet, conductors.CABLE, cable=True)
            out = plant.node(cabinet, f"{cabinet.structure}b")
            label = f"hospital switch, feeder {feeder.circuit}"
            plant.device(cabinet, f"N-{cabinet.number}", "enclosed_switch", out, label=label)
            pad = plant.pole(out, (at[0] + 25, at[1]), kind="pad", street=street)
            arriving = plant.node(pad, f"{pad.structure}a")
            plant.wire(out, arriving, conductors.CABLE, cable=True)
            plant.device(pad, f"E-{pad.number}", "elbow", arriving, label=f"elbows of {street.name}")
            units.append(plant.transformer(pad, "ABC", 500 / 3, "wye_grounded-wye_grounded", 0.48))
        self.works.customers.hospital(*units)


def _where(station: int) -> tuple[float, float]:
    return station // 2 * _NEXT_TOWN, station % 2 * _OTHER_BANK


def _pole(feeder: Feeder, far: float) -> Spot:
    """The pole of the main or tail that is about so far from the station."""
    if far < TOWN_EDGE:
        goal = place(feeder.u + feeder.side * far, feeder.v)
        return min(feeder.main, key=lambda spot: math.dist(spot.at, goal))
    return feeder.tail[int(min((far - TOWN_EDGE) / COUNTRY_SPAN, len(feeder.tail))) - 1]


def _demo_pole(pole: str, circuit: str) -> Spot:
    row = next(row for row in demo_rows("structures") if row["structure_id"] == pole)
    at = metres(row["latitude"], row["longitude"])
    return Spot(pole.removeprefix("P-"), pole, pole, "ABC", at, circuit, Street(row["street"], "Orrin Vale"))


def _served_by_the_demo() -> Counter[str]:
    """How many customers each feeder of circuits/demo has, by the cutout of their transformer."""
    feeder = {row["device_id"].removeprefix("F-"): row["circuit_id"] for row in demo_rows("devices")}
    return Counter(feeder[row["transformer_id"].removeprefix("T-")] for row in demo_rows("premises"))
