"""Random small networks to be planned on, and every plan there is for one, by trying all.

Nothing here knows of sections, places, programs or of the package's own trace: node-phases, edges and floods.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from math import inf, sqrt

from circuits.core.network import Device, Line, Network, Node, Premises, Source, Transformer
from circuits.core.planning.loading import Ratings
from circuits.core.planning.plans import Question

Point = tuple[str, str]
KV = 12.47


@dataclass
class Case:
    """A network and what is asked of it."""

    network: Network
    question: Question


def case(seed: int) -> Case:
    """A few trees of two or three phases grown from stations, tied to each other; taps, banks, machines."""
    dice = random.Random(seed)
    phases = dice.choice(["A", "A", "AB", "ABC"])
    made = _Made(dice, phases)
    for station in range(dice.choice([1, 2])):
        made.station(station)
    if dice.random() < 0.5:
        made.main()
    for _ in range(dice.randint(0, 2) if made.limit else dice.randint(2, 4)):
        made.branch()
    for _ in range(dice.choice([0, 1, 2, 2])):
        made.tie()
    for _ in range(dice.choice([0, 0, 1])):
        made.ring()
    for _ in range(dice.randint(1, 3)):
        made.transformer()
    for _ in range(dice.choice([0, 0, 1, 2])):
        made.machine()
    return made.case()


@dataclass
class _Made:
    dice: random.Random
    phases: str
    nodes: list[Node] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    transformers: list[Transformer] = field(default_factory=list)
    premises: list[Premises] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    rings: int = 0
    limit: str = ""

    def node(self, phases: str = "", kv: float = KV) -> str:
        self.nodes.append(Node(f"n{len(self.nodes)}", phases or self.phases, kv))
        return self.nodes[-1].id

    def any_node(self) -> Node:
        return self.dice.choice([node for node in self.nodes if node.nominal_kv == KV])

    def last(self) -> Node:
        return [node for node in self.nodes if node.nominal_kv == KV][-1]

    def station(self, number: int) -> None:
        at = self.node()
        self.sources.append(Source(f"st{number}", at, "station", self.phases))
        self.device(at, self.node(), self.phases)

    def device(self, a: str, b: str, phases: str, closed: str | None = None, kind: str = "cutout") -> None:
        self.devices.append(
            Device(
                f"d{len(self.devices)}",
                a,
                b,
                phases,
                closed=phases if closed is None else closed,
                kind=kind,
                operation=self.dice.choice(["gang", "gang", "single"]),
                visible_break=self.dice.random() < 0.6,
            )
        )

    def main(self) -> None:
        """A run with limits at its beginning and a tie at its end."""
        start, first = self.nodes[-1].id, self.nodes[0].id
        for _ in range(2):
            self.limit = self.limit or start
            self.device(start, end := self.node(), self.phases)
            start = end
        self.device(start, first, self.phases, closed="")
        self.transformer(start)

    def branch(self) -> None:
        start = self.last() if self.dice.random() < 0.6 else self.any_node()
        some = [p for p in start.phases if self.dice.random() < 0.8] or [start.phases[0]]
        end = self.node("".join(some))
        if self.dice.random() < 0.8:
            self.device(start.id, end, "".join(some))
        else:
            self.lines.append(Line(f"l{len(self.lines)}", start.id, end, "".join(some)))

    def tie(self) -> None:
        a, b = self.last(), self.any_node()
        if a != b and (common := "".join(p for p in a.phases if p in b.phases)):
            self.device(a.id, b.id, common, closed="")

    def ring(self) -> None:
        """A device that closes a loop by now."""
        a, b = self.any_node(), self.any_node()
        if a != b and (common := "".join(p for p in a.phases if p in b.phases)):
            self.device(a.id, b.id, common)
            self.rings += 1

    def transformer(self, where: str = "") -> None:
        at = next((node for node in self.nodes if node.id == where), None) or self.any_node()
        name = f"t{len(self.transformers)}"
        if len(at.phases) == 3 and self.dice.random() < 0.5:
            phases, connection = "ABC", "wye_grounded-delta"
        elif len(at.phases) > 1 and self.dice.random() < 0.3:
            phases, connection = at.phases[:2], "phase_to_phase"
        else:
            phases, connection = self.dice.choice(at.phases), "single"
        primary = at.id
        if self.dice.random() < 0.3:
            primary = self.node(phases)
            self.device(at.id, primary, phases)
        low = self.node(phases if connection != "phase_to_phase" else phases[0], 0.24)
        self.transformers.append(
            Transformer(name, primary, low, phases, connection, kva=self.dice.choice([50, 100]))
        )
        for number in range(self.dice.randint(1, 5)):
            care = self.dice.choice(["none", "none", "none", "critical", "life_support"])
            self.premises.append(Premises(f"{name}/{number}", name, care=care))

    def machine(self) -> None:
        if self.transformers:
            one = self.dice.choice(self.transformers)
            low = next(node for node in self.nodes if node.id == one.secondary_node)
            at, device = low.id, ""
            if self.dice.random() < 0.7:
                at = self.node(low.phases, 0.24)
                self.device(low.id, at, low.phases, kind="service_disconnect")
                device = self.devices[-1].id
            kind, means = self.dice.choice(
                [("inverter", "none"), ("standby", "unknown"), ("standby", "interlocked")]
            )
            self.sources.append(
                Source(f"g{len(self.sources)}", at, kind, low.phases[0], means, device=device)
            )

    def case(self) -> Case:
        dice = self.dice
        network = Network(
            nodes=tuple(self.nodes),
            lines=tuple(self.lines),
            devices=tuple(self.devices),
            transformers=tuple(self.transformers),
            premises=tuple(self.premises),
            sources=tuple(self.sources),
        )
        buses = {one.node for one in self.sources}
        anywhere = dice.choice(
            [node for node in self.nodes if node.nominal_kv == KV and node.id not in buses]
        )
        limit = next((node for node in self.nodes if node.id == self.limit), anywhere)
        phases = limit.phases if dice.random() < 0.7 else dice.choice(limit.phases)
        kept = [one.id for one in self.devices if dice.random() < 0.07]
        ratings = Ratings()
        if dice.random() < 0.5 and not self.rings:
            ratings = Ratings(
                {("device", one.id): dice.choice([5.0, 10.0, 20.0, 1000.0, 1000.0]) for one in self.devices}
                | {("line", one.id): dice.choice([10.0, 20.0, 1000.0, 1000.0]) for one in self.lines}
            )
        by_phase = dice.random() < 0.4
        shared = {one.id: f"{one.id} is shared." for one in self.devices if dice.random() < 0.15}
        return Case(
            network,
            Question(
                limits=((limit.id, phases),),
                open_now=dict(network.normally_open),
                kept=kept,
                shared=shared,
                ratings=ratings,
                by_phase=by_phase,
            ),
        )


@dataclass(frozen=True)
class Tried:
    """A plan that will do: its price, the devices opened or tagged, those of them behind which a station
    stands, and who is out."""

    price: float
    used: frozenset[str]
    parting_stations: frozenset[str]
    out: frozenset[str]


class ByTrying:
    """Every plan of a case, each judged by floods over the node-phases."""

    def __init__(self, case: Case) -> None:
        self.network = case.network
        self.question = case.question
        self.legs = [(device, p) for device in self.network.devices for p in device.phases]
        self.open_now = {(d.id, p) for d, p in self.legs if p in self.question.open_now.get(d.id, "")}
        self.points = [(node.id, p) for node in self.network.nodes for p in node.phases]
        self.wires = [
            ((row.from_node, p), (row.to_node, p)) for row in self.network.lines for p in row.phases
        ]
        self.wires += [
            ((one.primary_node, p), (one.secondary_node, p))
            for one in self.network.transformers
            if one.connection == "single"
            for p in one.phases
        ]
        self.coupled: list[list[Point]] = []
        for one in self.network.transformers:
            low = next(node for node in self.network.nodes if node.id == one.secondary_node)
            if one.connection != "single":
                ends = [(one.primary_node, p) for p in one.phases] + [(low.id, p) for p in low.phases]
                self.coupled.append(ends)
        self.energized_now = self.energized(self.open_now)
        self.carried_now = self.carried(self.open_now)
        self.supplied_now = {
            one.id for one in self.network.premises if self.has_supply(one, self.energized_now)
        }
        self.agreed = {
            source.id
            for source in self.network.sources
            if source.kind != "station" and self.reaches(source, self.all_usable())
        }

    def flood(self, starts: set[Point], opened: set[tuple[str, str]], *, over_couplings: bool) -> set[Point]:
        edges = list(self.wires)
        edges += [((d.from_node, p), (d.to_node, p)) for d, p in self.legs if (d.id, p) not in opened]
        if over_couplings:
            edges += [(ends[0], other) for ends in self.coupled for other in ends[1:]]
        reached = set(starts)
        grew = True
        while grew:
            grew = False
            for a, b in edges:
                if (a in reached) != (b in reached):
                    reached |= {a, b}
                    grew = True
        return reached

    def energized(self, opened: set[tuple[str, str]]) -> set[Point]:
        starts = {(one.node, p) for one in self.network.sources if one.is_station for p in one.phases}
        while True:
            found = self.flood(starts, opened, over_couplings=False)
            more = set(found)
            for one in self.network.transformers:
                if one.connection != "single" and all((one.primary_node, p) in found for p in one.phases):
                    low = next(node for node in self.network.nodes if node.id == one.secondary_node)
                    more |= {(low.id, p) for p in low.phases}
            if more == found:
                return found
            starts = more

    def has_supply(self, premises: Premises, energized: set[Point]) -> bool:
        one = next(t for t in self.network.transformers if t.id == premises.transformer)
        low = next(node for node in self.network.nodes if node.id == one.secondary_node)
        return all((low.id, p) in energized for p in low.phases)

    def all_usable(self) -> set[tuple[str, str]]:
        kept = set(self.question.kept)
        found = set()
        for unit in self.units():
            if not (unit[0].id in kept and any((unit[0].id, p) not in self.open_now for p in unit[1])):
                found |= {(unit[0].id, p) for p in unit[1]}
        return found

    def reaches(self, source: Source, blocked: set[tuple[str, str]]) -> bool:
        limits = {(node, p) for node, phases in self.question.limits for p in phases}
        inside = self.flood(limits, blocked, over_couplings=True)
        return any((source.node, p) in inside for p in source.phases)

    def units(self) -> list[tuple[Device, str]]:
        found = []
        for device in self.network.devices:
            if self.question.by_phase and device.operation == "single":
                found += [(device, p) for p in device.phases]
            else:
                found.append((device, device.phases))
        return found

    def stations_part(self) -> bool:
        """Whether opening all that may be used parts every station, and any source reaches the limits."""
        blocked = self.all_usable()
        stations = [one for one in self.network.sources if one.is_station]
        return not any(self.reaches(one, blocked) for one in stations)

    def choices(self) -> Iterator[tuple[set[tuple[str, str]], set[tuple[str, str]], float]]:
        """What stands open, what of it is tagged, and what that costs beside the customers."""
        kept = set(self.question.kept)
        others = kept | self.question.shared.keys()
        units = self.units()
        ways = []
        for device, phases in units:
            legs = {(device.id, p) for p in phases}
            if not legs <= self.open_now:
                ways.append(["leave"] if device.id in kept else ["leave", "open"])
            else:
                normally = not set(phases) & set(device.closed) and device.kind != "service_disconnect"
                ways.append(
                    ["leave", "tag", "close"] if normally and device.id not in others else ["leave", "tag"]
                )
        for choice in product(*ways):
            opened, tagged, price = set(self.open_now), set(), 0.0
            devices: dict[str, bool] = {}
            for (device, phases), way in zip(units, choice, strict=True):
                legs = {(device.id, p) for p in phases}
                price += 0.001 * (way in ("open", "close"))
                if way == "close":
                    opened -= legs
                elif way != "leave":
                    opened |= legs
                    tagged |= legs
                    devices[device.id] = device.visible_break
            price += sum(0.001 if visible else 0.011 for visible in devices.values())
            yield opened, tagged, price

    def all(self) -> Iterator[Tried]:
        stations = [one for one in self.network.sources if one.is_station]
        others = [
            one
            for one in self.network.sources
            if not one.is_station and not one.interlocked and one.id not in self.agreed
        ]
        limits = {(node, p) for node, phases in self.question.limits for p in phases}
        weights = {one.id: self.question.weights[one.care] for one in self.network.premises}
        for opened, tagged, price in self.choices():
            inside = self.flood(limits, tagged, over_couplings=True)
            if any((one.node, p) in inside for one in (*stations, *others) for p in one.phases):
                continue
            if self.opens_what_is_shared(opened, inside):
                continue
            energized = self.energized(opened)
            if energized & inside or energized - self.energized_now or self.loops(opened):
                continue
            if self.too_much(opened):
                continue
            out = {
                one.id
                for one in self.network.premises
                if one.id in self.supplied_now and not self.has_supply(one, energized)
            }
            fed = self.flood(
                {(one.node, p) for one in stations for p in one.phases}, tagged, over_couplings=True
            )
            devices = {
                device.id
                for device, p in self.legs
                if (device.id, p) in tagged
                and ((device.from_node, p) in inside) != ((device.to_node, p) in inside)
                and {(device.from_node, p), (device.to_node, p)} & fed
            }
            used = frozenset(name for name, _ in tagged)
            whole = price + sum(weights[one] for one in out)
            yield Tried(whole, used, frozenset(devices) or used, frozenset(out))

    def opens_what_is_shared(self, opened: set[tuple[str, str]], inside: set[Point]) -> bool:
        """Whether something that is another's point too is opened without being a point here: the work is on
        none of its sides, or on both."""
        for device, phases in self.units():
            if device.id in self.question.shared and any(
                (device.id, p) in opened - self.open_now for p in phases
            ):
                sides = [((device.from_node, p) in inside, (device.to_node, p) in inside) for p in phases]
                if all(one == other for one, other in sides):
                    return True
        return False

    def loops(self, opened: set[tuple[str, str]]) -> bool:
        """Whether something that is closed anew joins what is joined already; stations are joined too."""
        for device, p in self.legs:
            if (device.id, p) in self.open_now - opened:
                buses: set[Point] = {(one.node, p) for one in self.network.sources if one.is_station}
                without = self.flood({(device.from_node, p)}, opened | {(device.id, p)}, over_couplings=False)
                if without & buses:
                    without |= self.flood(buses, opened | {(device.id, p)}, over_couplings=False)
                if (device.to_node, p) in without:
                    return True
        return False

    def carried(self, opened: set[tuple[str, str]]) -> dict[tuple[str, str, str], float]:
        """What hangs on each device and line: what is cut off from every station when it is taken out. On a
        loop nothing is, so there everything beyond the loop's own feed is what both its sides would lose."""
        drawn: dict[Point, float] = {}
        for one in self.network.transformers:
            for p in one.phases:
                at = (one.primary_node, p)
                drawn[at] = drawn.get(at, 0.0) + one.kva / len(one.phases)
        starts = {(one.node, p) for one in self.network.sources if one.is_station for p in one.phases}
        found: dict[tuple[str, str, str], float] = {}
        reached = self.flood(starts, opened, over_couplings=False)
        for device, p in self.legs:
            if (device.id, p) not in opened:
                left = self.flood(starts, opened | {(device.id, p)}, over_couplings=False)
                found["device", device.id, p] = sum(drawn.get(one, 0.0) for one in reached - left)
        wires = list(self.wires)
        for line in self.network.lines:
            for p in line.phases:
                self.wires = [one for one in wires if one != ((line.from_node, p), (line.to_node, p))]
                left = self.flood(starts, opened, over_couplings=False)
                found["line", line.id, p] = sum(drawn.get(one, 0.0) for one in reached - left)
        self.wires = wires
        return found

    def too_much(self, opened: set[tuple[str, str]]) -> bool:
        if not self.question.ratings.amps:
            return False
        for (kind, name, p), kva in self.carried(opened).items():
            limit = self.question.ratings.amps.get((kind, name), inf) * KV / sqrt(3)
            if kva > max(limit, self.carried_now.get((kind, name, p), 0.0)) + 0.01:
                return True
        return False

    @property
    def size(self) -> int:
        """How many choices there are at most."""
        return int(3 ** len(self.units()))
