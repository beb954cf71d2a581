"""The choice of a plan as a mixed-integer linear program.

Chosen is which units to open, to tag where they stand open, and to close. What is priced is who is left
without: with a price on who is fed, the solver's gap would be one of all customers of a district.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf

from circuits.core.planning.graph import ELSEWHERE, Bank, Edge, Ground
from circuits.core.planning.mixed import Found, Mixed, Terms

# Beside one customer: a device that is opened or tagged is a walk, each phase or gang that is moved a step,
# and no visible open the worst.
POINT, OPERATION, NO_VISIBLE_OPEN = 0.001, 0.001, 0.01
JUMPER = 0.002  # is lifted, where another device is only opened


@dataclass(frozen=True, slots=True)
class Choice:
    """What the solver chose, as numbers of units: to open, to tag where they stand open, to close. `dead` are
    the places that it leaves without; `gap` is how far the price may be from the least, as a part of it."""

    opened: tuple[int, ...]
    checked: tuple[int, ...]
    closed: tuple[int, ...]
    dead: frozenset[int]
    price: float
    gap: float
    proven: bool


class Program:
    """The program of a ground. `weights` has the price of each premises, `drawn` the kVA of each place,
    `most` what each edge may carry, kVA. Rows are added by `exclude` and `forbid`, then it is solved anew."""

    def __init__(
        self,
        ground: Ground,
        weights: Mapping[str, float],
        drawn: Mapping[int, float],
        most: Mapping[int, float],
    ) -> None:
        self.ground = ground
        self._program = Mixed()
        self._most = most
        self._dead = {place: self._program.var() for place in sorted(ground.live - ground.stations)}
        self._worked = {group: self._side(group) for group in sorted(set(ground.group))}
        self._opened: dict[int, int] = {}
        self._checked: dict[int, int] = {}
        self._closed: dict[int, int] = {}
        self._tagged: dict[str, int] = {}
        self._units()
        for place, dead in self._dead.items():  # what is worked on is not energized
            self._program.row([(dead, 1.0), (self._worked[ground.group[place]], -1.0)], 0.0, inf)
        self._parting()
        self._shared()
        self._between = [
            (number, edge) for number, edge in enumerate(ground.edges) if {edge.a, edge.b} <= ground.live
        ]
        self._banks = [bank for bank in ground.banks if set(bank.primary + bank.secondary) <= ground.live]
        self._made = [self._bank(bank) for bank in self._banks]
        self._alike()
        self._radial()
        self._flow(dict.fromkeys(self._dead, 1.0), {}, of_kva=False)
        if most:
            self._flow({place: drawn.get(place, 0.0) for place in self._dead}, most, of_kva=True)
        self._customers(weights)

    def _side(self, group: int) -> int:
        """1 on the side of the limits, 0 on that of a source."""
        ground = self.ground
        inside = group in ground.inside
        fed = group in ground.fed or (group in ground.machines and not inside)
        return self._program.var(lower=float(inside), upper=float(not fed))

    def _units(self) -> None:
        for number, unit in enumerate(self.ground.units):
            if unit.closed and unit.usable:
                self._opened[number] = self._program.var(OPERATION, whole=True)
            elif unit.usable:
                self._checked[number] = self._program.var(whole=True)
            if unit.tie:
                self._closed[number] = self._program.var(OPERATION, whole=True)
                self._program.row([(self._checked[number], 1.0), (self._closed[number], 1.0)], -inf, 1.0)
        for number, column in (*self._opened.items(), *self._checked.items()):
            device = self.ground.units[number].device
            if device.id not in self._tagged:
                price = POINT + (0.0 if device.visible_break else NO_VISIBLE_OPEN)
                price += JUMPER if device.kind == "jumper" else 0.0
                self._tagged[device.id] = self._program.var(price)
            self._program.row([(self._tagged[device.id], 1.0), (column, -1.0)], 0.0, inf)

    def _parting(self) -> None:
        """Only a unit that is opened, or tagged where it stands open, has the work on one side only."""
        for edge in self.ground.edges:
            if edge.unit >= 0 and self.ground.units[edge.unit].usable:
                blocks = self._opened.get(edge.unit, self._checked.get(edge.unit, -1))
                sides = [
                    [(self._worked[self.ground.group[place]], sign)] if place != ELSEWHERE else []
                    for place, sign in ((edge.a, 1.0), (edge.b, -1.0))
                ]
                self._program.row([*sides[0], *sides[1], (blocks, 1.0)], 0.0, inf)
                self._program.row([*sides[0], *sides[1], (blocks, -1.0)], -inf, 0.0)

    def _shared(self) -> None:
        """What is another's point too is opened only with the work on one of its sides: work that hangs
        together with the limits, as a flow from them over what is not blocked has it."""
        ground = self.ground
        terms = {one: [(column, 1.0)] for one, column in self._opened.items() if ground.units[one].shared}
        if not terms:
            return
        total = float(len(self._worked))
        balance: dict[int, Terms] = {
            group: [(worked, -1.0)] for group, worked in self._worked.items() if group not in ground.inside
        }
        for edge in ground.edges:
            blocks = self._opened.get(edge.unit, self._checked.get(edge.unit, -1))
            a, b = (ELSEWHERE if one == ELSEWHERE else ground.group[one] for one in (edge.a, edge.b))
            if blocks < 0 or a == b:
                continue
            if ELSEWHERE not in (a, b):
                through = self._program.var(lower=-total, upper=total)
                self._program.row([(through, 1.0), (blocks, total)], -inf, total)
                self._program.row([(through, 1.0), (blocks, -total)], -total, inf)
                for group, factor in ((a, -1.0), (b, 1.0)):
                    if group in balance:
                        balance[group].append((through, factor))
            if edge.unit in terms:
                terms[edge.unit] += [(self._on_one_side(a, b), -1.0), (self._on_one_side(b, a), -1.0)]
        for flows in balance.values():
            self._program.row(flows, 0.0, inf)
        for of_unit in terms.values():
            self._program.row(of_unit, -inf, 0.0)

    def _on_one_side(self, inner: int, outer: int) -> int:
        """Whether the work is in one group and not in another."""
        side = self._program.var(upper=float(inner != ELSEWHERE))
        for group, factor, most in ((inner, -1.0, 0.0), (outer, 1.0, 1.0)):
            if group != ELSEWHERE:
                self._program.row([(side, 1.0), (self._worked[group], factor)], -inf, most)
        return side

    def _conducts(self, edge: Edge) -> tuple[Terms, float]:
        """Whether an edge is closed: terms and a constant."""
        if edge.closed:
            opened = self._opened.get(edge.unit)
            return ([] if opened is None else [(opened, -1.0)]), 1.0
        closed = self._closed.get(edge.unit)
        return ([] if closed is None else [(closed, 1.0)]), 0.0

    def _alive(self, place: int, sign: float = 1.0) -> tuple[Terms, float]:
        """Whether a place is energized: terms and a constant."""
        dead = self._dead.get(place)
        return ([] if dead is None else [(dead, -sign)]), sign

    def _alike(self) -> None:
        """What a closed edge joins is energized on both sides or on none."""
        for edge in self.ground.edges:
            terms, constant = self._conducts(edge)
            if not (terms or constant) or ELSEWHERE in (edge.a, edge.b):
                continue
            for one, other in ((edge.a, edge.b), (edge.b, edge.a)):
                alive, of_one = self._energized(one)
                not_alive, of_other = self._energized(other, -1.0)
                self._program.row([*alive, *not_alive, *terms], -inf, 1.0 - constant - of_one - of_other)

    def _energized(self, place: int, sign: float = 1.0) -> tuple[Terms, float]:
        return self._alive(place, sign) if place in self.ground.live else ([], 0.0)

    def _bank(self, bank: Bank) -> int:
        """Whether all that a bank hangs on is energized: then so is what it feeds."""
        made = self._program.var()
        terms: Terms = [(made, -1.0)]
        constant = 0.0
        for place in bank.primary:
            alive, one = self._alive(place)
            self._program.row([(made, 1.0), *_minus(alive)], -inf, one)
            terms += alive
            constant += one
        self._program.row(terms, -inf, len(bank.primary) - 1 - constant)
        for place in bank.secondary:
            alive, one = self._alive(place)
            self._program.row([(made, 1.0), *_minus(alive)], -inf, one)
        return made

    def _radial(self) -> None:
        """Each place has one edge or bank that feeds it, and each closed edge feeds one place: no new loop.
        What lies in a loop by now may stay closed without."""
        feeding: dict[int, Terms] = {place: [] for place in self._dead}
        for _, edge in self._between:
            conducts, constant = self._conducts(edge)
            ways: Terms = []
            for place in (edge.a, edge.b):
                if place in self._dead:
                    way = self._program.var()
                    feeding[place].append((way, 1.0))
                    ways.append((way, 1.0))
            self._program.row([*ways, *_minus(conducts)], -inf, constant)
            if not edge.ringed:
                alive, one = self._alive(edge.a)
                self._program.row([*ways, *_minus(conducts), *_minus(alive)], constant + one - 1.0, inf)
        for bank, made in zip(self._banks, self._made, strict=True):
            for place in bank.secondary:
                way = self._program.var()
                feeding[place].append((way, 1.0))
                self._program.row([(way, 1.0), (made, -1.0)], -inf if bank.ringed else 0.0, 0.0)
        for place, ways in feeding.items():
            alive, one = self._alive(place)
            self._program.row([*ways, *_minus(alive)], one, one)

    def _flow(self, drawn: Mapping[int, float], most: Mapping[int, float], *, of_kva: bool) -> None:
        """Something flows from the stations to each energized place over closed edges: nothing feeds itself,
        and, in kVA, nothing carries more than it may. Of a bank the kVA are drawn where its primary is."""
        widest = 1 if of_kva else max((len(bank.primary) for bank in self._banks), default=1)
        total = sum(drawn.values()) * widest + 1.0
        balance: dict[int, Terms] = {place: [] for place in self._dead}

        def flow(places: Iterable[int], factor: float, column: int) -> None:
            for place in places:
                if place in balance:
                    balance[place].append((column, factor))

        for number, edge in self._between:
            conducts, constant = self._conducts(edge)
            if conducts or constant:
                limit = min(total, most.get(number, inf))
                lower, upper = (-total, total) if of_kva else self._ways(edge, total)
                through = self._program.var(lower=max(lower, -limit), upper=min(upper, limit))
                self._program.row([(through, 1.0), *_times(conducts, -limit)], -inf, constant * limit)
                self._program.row([(through, 1.0), *_times(conducts, limit)], -constant * limit, inf)
                flow([edge.a], -1.0, through)
                flow([edge.b], 1.0, through)
        for bank, made in zip(self._banks, self._made, strict=True):
            for place in bank.secondary if of_kva else bank.secondary[:1]:
                through = self._program.var(upper=total)
                self._program.row([(through, 1.0), (made, -total)], -inf, 0.0)
                flow([] if of_kva else bank.primary, -1.0, through)
                flow([place] if of_kva else bank.secondary, 1.0, through)
        for place, flows in balance.items():
            alive, one = self._alive(place)
            self._program.row([*flows, *_times(alive, -drawn[place])], one * drawn[place], inf)

    def _ways(self, edge: Edge, total: float) -> tuple[float, float]:
        """Which way feed may go, from `a` to `b` upward: what crosses a place that no new feed may cross
        stays as it is."""
        lower, upper = -total, total
        for crossed, beyond in self.ground.crossed.items():
            tie = not edge.closed
            for start, end in ((edge.a, edge.b), (edge.b, edge.a)):
                out = tie and start in beyond | {crossed}
                back = end == crossed and (tie or start in beyond)
                if out or back:
                    lower, upper = (lower, min(upper, 0.0)) if start == edge.a else (max(lower, 0.0), upper)
        return lower, upper

    def _customers(self, weights: Mapping[str, float]) -> None:
        for needs, premises in self.ground.served.items():
            price = sum(weights[one] for one in premises)
            without = []
            for places in needs:
                one = self._dead[places[0]] if len(places) == 1 else self._program.var()
                for place in places if len(places) > 1 else ():
                    self._program.row([(one, 1.0), (self._dead[place], -1.0)], 0.0, inf)
                without.append((one, -1.0))
            if len(without) == 1:
                self._program.price[without[0][0]] += price
            else:
                both = self._program.var(price)
                self._program.row([(both, 1.0), *without], 1.0 - len(without), inf)

    def exclude(self, devices: Collection[str]) -> None:
        """No plan that opens or tags something of each of these devices."""
        self._program.row([(self._tagged[one], 1.0) for one in devices], -inf, len(devices) - 1.0)

    def rule_out(self, choice: Choice) -> None:
        """No plan that does all of this again."""
        used = [self._opened[one] for one in choice.opened] + [self._checked[one] for one in choice.checked]
        used += [self._closed[one] for one in choice.closed]
        self._program.row([(column, 1.0) for column in used], -inf, len(used) - 1.0)

    def forbid(self, edges: Iterable[int]) -> None:
        """These edges, a loop, are not all closed at once."""
        terms: dict[int, float] = {}
        constant = 0.0
        count = 0
        for number in edges:
            found, one = self._conducts(self.ground.edges[number])
            count += 1
            constant += one
            for column, factor in found:
                terms[column] = terms.get(column, 0.0) + factor
        self._program.row(list(terms.items()), -inf, count - 1.0 - constant)

    def solve(self, seconds: float) -> Choice | None:
        """The cheapest choice, or the best that was found in that time; None if there is none, or none was
        found.

        What may be carried makes a program slow. So one without any tie, which is quick, is tried first: what
        is looked for then is to be cheaper, and without such it stands.
        """
        ties = list(self._closed.values())
        if not (self._most and ties):
            found = self._program.minimize(seconds)
        elif found := self._program.minimize(seconds, shut=ties):
            cheaper = self._program.minimize(seconds, ceiling=found.price)
            found = cheaper or replace(found, gap=1.0, proven=False)
        return self._choice(found) if found else None

    def _choice(self, found: Found) -> Choice:
        def chosen(columns: Mapping[int, int]) -> tuple[int, ...]:
            return tuple(number for number, column in columns.items() if found.values[column] > 0.5)

        return Choice(
            opened=chosen(self._opened),
            checked=chosen(self._checked),
            closed=chosen(self._closed),
            dead=frozenset(place for place, column in self._dead.items() if found.values[column] > 0.5),
            price=found.price,
            gap=found.gap,
            proven=found.proven,
        )


def _minus(terms: Terms) -> Terms:
    return _times(terms, -1.0)


def _times(terms: Terms, factor: float) -> Terms:
    return [(column, factor * one) for column, one in terms]
