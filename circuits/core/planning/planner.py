"""The best few ways to part the limits of a work clearance from every source, with the fewest customers out.

The choice is a mixed-integer program (`model`) on the sections round the limits (`graph`).
Nobody has to trust it: each plan is proved again by `isolation.live_paths` and by `trace`, which know nothing
of it, and one that does not pass is thrown away and said to have been.
"""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import inf

import numpy as np

from circuits.core.isolation import told, words
from circuits.core.network import Compiled
from circuits.core.planning.graph import Asked, Ground
from circuits.core.planning.ground import ground
from circuits.core.planning.loading import Thing, loading
from circuits.core.planning.model import Choice, Program
from circuits.core.planning.plans import CannotPlanError, Plan, Plans, Question
from circuits.core.planning.proving import ROUNDING, Present, Proving

# Up to how many devices, or phases of them, each lateral is looked at by itself where what is left must be
# made to fit a tie: with more the solver's time runs out on which few customers to leave out.
_FEW = 150


def plans(compiled: Compiled, question: Question, *, how_many: int = 3, seconds: float = 5.0) -> Plans:
    """Up to `how_many` plans, the cheapest first; each next one leaves out a point of every one before.

    The solver has `seconds` for each plan; when they run out the best so far is returned with its gap, and no
    further one is looked for. Nothing that is not energized now is energized by a plan, no loop is closed, no
    unlike phases are joined, and nothing carries more than its rating, or than it carries now. Raises
    CannotPlanError with a sentence, and ValueError for a node, device or phase that is not there.

    Cost: up to a second for 1,000 sections within two ties of the limits.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "AB"), Node("tap", "AB")),
    ...     devices=(Device("C-1", "main", "tap", "AB", closed="AB", visible_break=True, recloses=False,
    ...                     remote=False),),
    ...     sources=(Source("station", "main", "station", "AB"),)))
    >>> [plan] = plans(compiled, Question((("tap", "A"),), {})).plans
    >>> [point.words for point in plan.points]
    ['open C-1 (phase A) and tag it']
    """
    return _Planner(compiled, question).plans(how_many, seconds)


class _Planner:
    def __init__(self, compiled: Compiled, question: Question) -> None:
        self.compiled = compiled
        self.question = question
        points = [compiled.point(node, phase) for node, phases in question.limits for phase in phases]
        if not points:
            raise CannotPlanError("Nothing is inside these limits.")
        self.loading = loading(compiled, question.ratings)
        self.present = Present(compiled, question, self.loading)
        if not self.present.ways({}, question.agreed):
            raise CannotPlanError(
                "No source on record reaches these limits with every device closed: there is nothing to part."
            )
        self.asked = Asked(
            compiled,
            self.present.state,
            limits=tuple(points),
            kept=frozenset(question.kept),
            shared=frozenset(question.shared),
            not_crossed=tuple(question.not_crossed),
            agreed=frozenset(question.agreed),
            by_phase=question.by_phase,
        )
        self.thrown_away: list[str] = []

    def plans(self, how_many: int, seconds: float) -> Plans:
        # What may be carried is looked at only once a plan carries too much: that makes all the rest fast.
        self.tight: frozenset[Thing] = frozenset()
        merged = True
        while True:
            self.ground = ground(replace(self.asked, parted=self.tight, merged=merged))
            self._refuse_what_no_device_parts()
            found, too_full = self._search(how_many, seconds)
            if not too_full:
                break
            self.tight |= too_full
            merged = len(self.ground.units) > _FEW
        self.whole_laterals = bool(self.tight) and merged
        return Plans(
            tuple(found), tuple(self._told(found)), tuple(self.thrown_away), undecided=self._undecided()
        )

    def _undecided(self) -> tuple[str, ...]:
        """The customers' machines that hang on the limits without a device between that may be used."""
        machines = self.ground.machines
        return tuple(name for group in sorted(self.ground.inside) for name in machines.get(group, ()))

    def _refuse_what_no_device_parts(self) -> None:
        if self.ground.inside & self.ground.fed:
            usable: dict[str, str] = {}
            for unit in self.ground.units:
                if unit.usable:
                    usable[unit.device.id] = usable.get(unit.device.id, "") + unit.phases
            way = words(self.compiled, self.present.ways(usable, ())[0])
            raise CannotPlanError(
                f"No device that may be used stands between these limits and a source: {way}."
            )

    def _search(self, how_many: int, seconds: float) -> tuple[list[Plan], set[Thing]]:
        """The plans, or what the best of them would fill over its rating without that having been looked
        at."""
        program = self._program()
        self.thrown_away.clear()
        found: list[Plan] = []
        while len(found) < how_many and len(self.thrown_away) < how_many:
            choice = program.solve(seconds)
            if choice is None:
                break
            if ring := _new_ring(self.ground, choice):
                program.forbid(ring)
                continue
            proving = Proving(self.present, self.ground, choice, self._undecided())
            if too_full := {one for one in proving.over if one[0] != "device" or not self.tight} - self.tight:
                return [], too_full
            if wrong := proving.wrong:
                self.thrown_away.append(wrong)
                program.rule_out(choice)
                continue
            found.append(replace(proving.plan(), before=len(found)))
            if not choice.proven:
                break
            program.exclude(proving.parting_stations)
        return found, set()

    def _program(self) -> Program:
        ground, carries = self.ground, self.loading
        weights = {
            one: self.question.weights[self.present.care[one]]
            for premises in ground.served.values()
            for one in premises
        }
        drawn: dict[int, float] = {}
        for point in np.flatnonzero(carries.drawn).tolist():
            if (place := ground.place.get(point)) is not None:
                drawn[place] = drawn.get(place, 0.0) + float(carries.drawn[point])
        limits = np.maximum(carries.limits, self.present.carried) + ROUNDING
        most = {
            number: float(limits[edge.link])
            for number, edge in enumerate(ground.edges)
            if self.tight and limits[edge.link] < inf
        }
        return Program(ground, weights, drawn, most)

    def _told(self, found: list[Plan]) -> Iterator[str]:
        if not found and not self.thrown_away:
            yield "No plan was found in the time given."
        for name in self._undecided():
            kind = self.compiled.network.source[name].kind
            yield (
                f"No device that may be used parts {kind} {name} from these limits: the holder has to agree "
                "how it is dealt with."
            )
        for plan in found[:1]:
            blocked = {point.device.id: point.phases for point in plan.points}
            for path in told(self.compiled, blocked, self.question.limits):
                yield f"Only a transfer switch parts {words(self.compiled, path)} from these limits."
        ties = {number: unit.device.id for number, unit in enumerate(self.ground.units) if unit.tie}
        if not ties:
            yield "No normally-open tie stands in reach: what is cut off stays out."
        yield from self._not_crossed(ties)
        if self.whole_laterals:
            yield "No lateral is opened only so that what is left fits a tie."
        if not self.question.ratings.amps:
            yield "No rating is on record, so no load was summed."
        elif not self.question.ratings.peaks:
            yield "No peak is on record: loads are the sizes of the transformers, connected kVA."

    def _not_crossed(self, ties: Mapping[int, str]) -> Iterator[str]:
        network, place = self.compiled.network, self.ground.place
        for node, why in self.question.not_crossed.items():
            points = [self.compiled.point(node, phase) for phase in network.node[node].phases]
            crossed = {place[point] for point in points if point in place}
            over = crossed.union(*(self.ground.crossed[one] for one in crossed))
            at = [edge for edge in self.ground.edges if not over.isdisjoint((edge.a, edge.b))]
            for tie in sorted({ties[edge.unit] for edge in at if edge.unit in ties}):
                yield f"{tie} picks nothing up over {network.pole(node) or node}: {why}."


def _new_ring(ground: Ground, choice: Choice) -> list[int]:
    """The edges of a loop that a tie of the choice closes; none if there is no such loop."""
    opened, closed = set(choice.opened), set(choice.closed)
    conducts = [
        number
        for number, edge in enumerate(ground.edges)
        if (edge.closed and edge.unit not in opened) or edge.unit in closed
    ]
    beside: dict[int, list[tuple[int, int]]] = {}
    for number in conducts:
        edge = ground.edges[number]
        beside.setdefault(edge.a, []).append((edge.b, number))
        beside.setdefault(edge.b, []).append((edge.a, number))
    for tie in conducts:
        edge = ground.edges[tie]
        if edge.unit not in closed:
            continue
        came: dict[int, tuple[int, int]] = {edge.a: (edge.a, tie)}
        queue = deque([edge.a])
        while queue:
            here = queue.popleft()
            for there, number in beside[here]:
                if number != tie and there not in came:
                    came[there] = here, number
                    queue.append(there)
        if edge.b in came:
            ring, here = [tie], edge.b
            while here != edge.a:
                here, number = came[here]
                ring.append(number)
            return ring
    return []
