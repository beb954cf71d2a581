"""Those who are served: premises with names, meters and contacts, their machines, and what they draw.

All invented. Mail goes to example.org (RFC 2606); only a hundred telephone numbers are reserved for fiction,
so many have the same.
"""

import unicodedata
from dataclasses import replace
from random import Random

from circuits.utility.ground import WORDS, Point, earth
from circuits.utility.plant import Plant, Spot, Unit

FIRST_PREMISES = 2001  # circuits/demo has those below
POSTCODE = "50999"
_LANGUAGES = ("en",) * 22 + ("es",) * 3 + ("vi", "uk", "so")
_SIZES = (10, 15, 25, 37.5, 50, 75, 100)


def unit_size(homes: int, kva_each: float) -> float:
    """The smallest standard unit for so many homes.

    >>> unit_size(8, kva_each=2.8), unit_size(1, kva_each=7)
    (25, 10)
    """
    return next((size for size in _SIZES if size >= homes * kva_each), _SIZES[-1])


class Customers:
    """Writes who is served, and counts them."""

    def __init__(self, plant: Plant, rng: Random) -> None:
        self.plant, self.rows, self.rng = plant, plant.rows, rng
        self._next = FIRST_PREMISES
        self._firms = 0

    def homes(self, unit: Unit, count: int, *, apart: float = 18, back: float = 20) -> None:
        """Homes on both sides of the street, `apart` metres along it and `back` from the wire; now and then a
        house of flats."""
        rng, street = self.rng, unit.spot.street
        flats = count >= 6 and rng.random() < 0.06
        house = street.next_number(rng)
        for number in range(count):
            if number and not flats:
                house = street.next_number(rng)
            along = 0 if flats else (number // 2 - (count - 1) // 4) * apart
            at = _beside(unit.spot, along, back if number % 2 else -back)
            name = f"{rng.choice(WORDS['first_names'])} {rng.choice(WORDS['last_names'])}"
            flat = f"{number // 2 + 1}{'AB'[number % 2]}" if flats else ""
            care = "life_support" if rng.random() < 0.007 else "none"
            premises = self._premises(unit, at, f"{house} {street.name}", name, care, unit=flat)
            chance = rng.random()
            if chance < 0.025:
                means = "none" if chance < 0.002 else "visible"
                self._machine(unit, premises, at, "inverter", means, rng.choice((4, 5, 6, 8, 10)))
            elif chance < 0.032:
                means = "interlocked" if chance < 0.029 else "unknown"
                self._machine(unit, premises, at, "standby", means, 14)
        self.plant.load(unit.spot, min(count * rng.uniform(1.4, 2.4), 0.9 * unit.kva))

    def firms(self, unit: Unit, count: int) -> None:
        """Three-phase customers; every fourth is one that others hang on."""
        street = unit.spot.street
        for number in range(count):
            self._firms += 1
            critical = self._firms % 4 == 1
            kind = self.rng.choice(WORDS["critical" if critical else "trades"])
            name = f"{self.rng.choice(WORDS['streets' if critical else 'last_names'])} {kind}"
            at = _beside(unit.spot, number * 25, 25)
            address = f"{street.next_number(self.rng)} {street.name}"
            self._premises(unit, at, address, name, "critical" if critical else "none")
        self.plant.load(unit.spot, unit.kva * self.rng.uniform(0.3, 0.6))

    def hospital(self, unit: Unit, second: Unit) -> None:
        """On two transformers, with a transfer that works by itself and a generator of its own."""
        street, at, name = unit.spot.street, _beside(unit.spot, 30, 30), "Orrin Vale Hospital"
        feeds = {"second_transformer_id": second.id, "transfer": "automatic"}
        premises = self._premises(unit, at, f"1 {street.name}", name, "critical", **feeds)
        self._machine(unit, premises, at, "standby", "interlocked", 400)
        self.plant.load(unit.spot, 0.5 * unit.kva)

    def _premises(self, served: Unit, at: Point, address: str, name: str, care: str, **cells: str) -> str:
        premises, locality = str(self._next), served.spot.street.locality
        self._next += 1
        latitude, longitude = earth(at)
        self.rows.add(
            "premises",
            premises_id=premises, transformer_id=served.id, address=address, locality=locality,
            postcode=POSTCODE, latitude=latitude, longitude=longitude, meter=_meter(premises), name=name,
            care=care, language=self.rng.choice(_LANGUAGES), **cells,
        )  # fmt: skip
        self._contacts(premises, name, f"{address}, {locality}", care)
        return premises

    def _contacts(self, premises: str, name: str, post: str, care: str) -> None:
        """Mostly e-mail; a few have only a telephone, only a letter box or nothing."""
        chance = self.rng.random()
        ways = []
        if care != "none" or chance > 0.86:
            ways.append(("voice", f"+1 515 555 01{int(premises) % 100:02}"))
        if chance < 0.93:
            plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
            ways.append(("email", f"{plain.replace(' ', '.')}.{premises}@example.org"))
        if chance > 0.975:
            ways = [("post", post)] if chance < 0.993 else []
        for rank, (channel, address) in enumerate(ways, start=1):
            self.rows.add("contacts", premises_id=premises, channel=channel, address=address, rank=rank)

    def _machine(self, unit: Unit, premises: str, at: Point, kind: str, means: str, kva: float) -> None:
        """A customer's machine behind a disconnect at the house, if there is any. A transfer switch on record
        stands on the utility's side."""
        name = f"{'INV' if kind == 'inverter' else 'GEN'}-{premises}"
        spot, device = unit.spot, ""
        if means != "none":
            device, house, parted = f"D-{premises}", f"H-{premises}", means == "interlocked"
            self.plant.structure(house, "cabinet", f"meter {_meter(premises)}", at, spot.street)
            beyond = self.plant.node(replace(spot, structure=house), name, kv=unit.kv, dead=parted)
            what = f"{'inverter' if kind == 'inverter' else 'standby generator'}, meter {_meter(premises)}"
            if parted:
                label, switch, position = f"transfer switch of the {what}", "transfer_switch", "open"
            else:
                label, switch, position = f"disconnect of the {what}", "service_disconnect", "closed"
            spot = self.plant.device(spot, device, switch, beyond, position=position, label=label)
        self.rows.add(
            "sources",
            source_id=name, node_id=spot.node, kind=kind, phases=spot.phases, kv=unit.kv, capacity_kva=kva,
            means_of_disconnection=means, device_id=device, premises_id=premises,
        )  # fmt: skip


def _meter(premises: str) -> str:
    return f"OV {40000 + int(premises)}"


def _beside(spot: Spot, along: float, back: float) -> Point:
    east, north = spot.heading
    return spot.at[0] + east * along - north * back, spot.at[1] + north * along + east * back
