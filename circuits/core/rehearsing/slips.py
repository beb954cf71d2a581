"""Every single slip that people could make in carrying out a switching order, and who would be hit.

A slip is one step left out, done on some phases only, done the other way, before the release or on the device
with a label or a place like it; two steps of a half swapped; or a device closed as it once stood that the
restore half leaves open. A device that was to be checked open and was mistaken counts as closed, unseen.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

from circuits.core.answers import VOLTAGE, Answer, is_more
from circuits.core.joins import never_joined
from circuits.core.rehearsing.beside import Concern, concerns
from circuits.core.rehearsing.lookalikes import taken_for
from circuits.core.rehearsing.rehearsal import (
    CHECK_OPEN,
    CLOSE,
    OPEN,
    Crew,
    Frame,
    Hold,
    Move,
    Order,
    Player,
    there,
)
from circuits.core.values import in_words, letters

KINDS = ("left out", "stuck", "look-alike", "other way", "old half", "too early", "swapped")

_Slots = tuple[tuple[Move, ...], ...]
_Way = tuple[str, int, str, _Slots]


@dataclass(frozen=True, slots=True)
class Hit:
    """A crew on whose phases more voltage may stand than as ordered: the worst `answer` of them, and in words
    which phases, where the first of them is and why."""

    crew: str
    answer: Answer
    why: str


@dataclass(frozen=True)
class Slip:
    """What goes wrong (`what`, as a phrase), in which slot of the order first, and what comes of it: crews
    hit, what is done to those beside the order that is not ordered, or under a hold before it is, things
    joined that may never be, premises out that would not be. `kind` is one of `KINDS`."""

    kind: str
    at: int
    what: str
    hits: tuple[Hit, ...]
    concerns: tuple[Concern, ...]
    joined: tuple[str, ...]
    out: tuple[str, ...]

    @property
    def rank(self) -> tuple[int, int, int, int, int, int, int]:
        """People first, the worst of what may stand on them first; then those beside the order; then what is
        joined; then the likelier kind of slip (from judgement) and the most customers."""
        worst = min((VOLTAGE[hit.answer] for hit in self.hits), default=len(VOLTAGE))
        few = -len(self.hits), -len(self.concerns), -len(self.joined)
        return worst, *few, KINDS.index(self.kind), -len(self.out), self.at

    @cached_property
    def sentence(self) -> str:
        return f"{self.what}: {'; '.join(self._comes_of_it())}."

    def _comes_of_it(self) -> Iterator[str]:
        for hit in self.hits:
            yield f"{hit.crew} is hit, {hit.why}"
        yield from (one.words for one in self.concerns)
        yield from self.joined
        if self.out:
            are = "customers are" if len(self.out) > 1 else "customer is"
            yield f"{len(self.out)} {are} out that would not be"


def slips(order: Order) -> tuple[Slip, ...]:
    """The slips that hit, concern or join something or put customers out, the worst first.

    Cost: a trace for each state that a slip brings about, some n cubed over six for the swaps of n steps.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> from circuits.core.rehearsing.rehearsal import Part
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> order = Order((Part(compiled, (Move("1", "C-1", "A", OPEN),)),), {},
    ...               (Crew("the crew", frozenset({("tap", "A")}), first=1),))
    >>> [slip.sentence for slip in slips(order)]
    ['Step 1 left out: the crew is hit, phase A at tap energized from station.']
    """
    player = Player()
    right = player.play(order)
    beside = _Beside(order)
    ordered = beside.concerned(right)
    found = []
    for kind, at, what, slots in _Ways(order, right):
        wrong = player.play(order, slots)
        hits, joined, out = _judge(right, wrong)
        first = beside.concerned(wrong)
        concerned = tuple(
            one
            for one, at in first.items()
            if one not in ordered or (isinstance(one.of, Hold) and at < ordered[one])
        )
        if hits or concerned or joined or out:
            found.append(Slip(kind, at, what, hits, concerned, joined, out))
    return tuple(sorted(found, key=lambda slip: (slip.rank, slip.what)))


class _Beside:
    """What is done to those beside an order; the same moves between the same states are looked at once."""

    def __init__(self, order: Order) -> None:
        self.order = order
        self._known: dict[object, tuple[Concern, ...]] = {}

    def concerned(self, frames: tuple[Frame, ...]) -> dict[Concern, int]:
        """Each with the number of the frame in which it is first."""
        found: dict[Concern, int] = {}
        for frame in frames:
            key = frame.done, frame.state, frame.before and frame.before.state
            if key not in self._known:
                self._known[key] = tuple(concerns(self.order.beside, frame))
            for one in self._known[key]:
                found.setdefault(one, frame.number)
        return found


def _judge(
    right: tuple[Frame, ...], wrong: tuple[Frame, ...]
) -> tuple[tuple[Hit, ...], tuple[str, ...], tuple[str, ...]]:
    """What a slip comes to, frame by frame beside the order as it is written: each crew in the frame in which
    the most may stand on it, and who is out when a part ends."""
    hits: dict[str, Hit] = {}
    joined: dict[str, None] = {}
    out: set[str] = set()
    for ordered, slipped in zip(right, wrong, strict=True):
        if slipped.open_phases == ordered.open_phases:
            continue
        if slipped.ends:
            out |= slipped.out - ordered.out
        for crew in slipped.crews:
            if hit := _hit(crew, ordered, slipped):
                hits[crew.name] = min(hits.get(crew.name, hit), hit, key=lambda one: VOLTAGE[one.answer])
        if _closed_more(ordered.open_phases, slipped.open_phases):
            both = {"were": ordered.state.loops_and_ties, "joined": slipped.state.loops_and_ties}
            joined |= dict.fromkeys(never_joined(ordered.trace, slipped.trace, **both))
    return tuple(hits.values()), tuple(joined), tuple(sorted(out))


def _hit(crew: Crew, ordered: Frame, slipped: Frame) -> Hit | None:
    """What comes in over the same way is said once, with the first place where it is."""
    state = slipped.trace
    place: dict[str, str] = {}
    phases: dict[str, set[str]] = defaultdict(set)
    answers = set()
    for node, phase in there(state, crew.nodes):
        answer = state.answer(node, phase)
        was = ordered.answer(node, phase)
        if was is not None and is_more(was, answer):
            why = state.why(node, phase)
            place.setdefault(why, state.compiled.network.pole(node) or node)
            phases[why].add(phase)
            answers.add(answer)
    if not answers:
        return None
    said = [f"{in_words(letters(phases[why]))} at {place[why]} {why}" for why in place]
    return Hit(crew.name, min(answers, key=VOLTAGE.__getitem__), ", ".join(said))


def _closed_more(ordered: Mapping[str, str], slipped: Mapping[str, str]) -> bool:
    moved = ((phases, slipped.get(device, "")) for device, phases in ordered.items())
    return any(were != are and set(were) - set(are) for were, are in moved)


class _Ways:
    """Every slip of an order: its kind, the slot of its first step, what happens in words, the slots then."""

    def __init__(self, order: Order, right: tuple[Frame, ...]) -> None:
        self.order = order
        self.right = right
        self.slots = order.slots
        self.part_of = [part for part in order.parts for _ in range(len(part.moves) + 1)]

    def __iter__(self) -> Iterator[_Way]:
        for at, slot in enumerate(self.slots):
            for move in slot:
                if move.operation == CHECK_OPEN:
                    yield from self._of_a_check(at, move)
                elif move.operation in (OPEN, CLOSE):
                    yield from self._of_a_move(at, move)
        yield from self._swapped()
        yield from self._old_half()

    def _of_a_check(self, at: int, move: Move) -> Iterator[_Way]:
        closed = replace(move, operation=CLOSE)
        what = f"Step {move.step} closes {move.device} instead of checking it open"
        yield "other way", at, what, self._done(at, closed)
        for other in self._taken_for(at, replace(move, operation=OPEN)):
            what = f"{other.device} opened for {move.device} in step {move.step}, which is closed unseen"
            yield "look-alike", at, what, self._done(at, other, closed)

    def _of_a_move(self, at: int, move: Move) -> Iterator[_Way]:
        step = f"Step {move.step}"
        yield "left out", at, f"{step} left out", self._done(at)
        for phase in move.phases if len(move.phases) > 1 else "":
            rest = letters(set(move.phases) - {phase})
            what = f"{step} done on {in_words(rest)} of {move.device}, {phase} stuck"
            yield "stuck", at, what, self._done(at, replace(move, phases=rest))
        for other in self._taken_for(at, move):
            did = "opened" if move.operation == OPEN else "closed"
            what = f"{other.device} {did} for {move.device} in step {move.step}"
            yield "look-alike", at, what, self._done(at, other)
        if move.operation == CLOSE:
            yield from self._too_early(at, move)

    def _too_early(self, at: int, move: Move) -> Iterator[_Way]:
        """A close done while those are still there who go before it."""
        going: dict[int, list[str]] = defaultdict(list)
        for crew in self.order.crews:
            if crew.last is not None and crew.last < at:
                going[crew.last].append(crew.name)
        for frame, names in sorted(going.items()):
            what = f"Step {move.step} done before {' and '.join(names)} is released"
            yield "too early", at, what, self._done(frame, *self.slots[frame], move)

    def _swapped(self) -> Iterator[_Way]:
        for first, second in combinations([at for at, slot in enumerate(self.slots) if slot], 2):
            (a,), (b,) = self.slots[first], self.slots[second]
            if self.part_of[first] is self.part_of[second] and {a.operation, b.operation} & {OPEN, CLOSE}:
                swapped = list(self.slots)
                swapped[first], swapped[second] = (b,), (a,)
                yield "swapped", first, f"Steps {a.step} and {b.step} swapped", tuple(swapped)

    def _old_half(self) -> Iterator[_Way]:
        """A device of the order or of the work that stood closed and is left open by all its parts, closed at
        the end."""
        if len(self.order.parts) < 2:
            return
        known = self.order.parts[0].compiled.network.device
        set_by_work = [device for part in self.order.parts for device in part.sets]
        for device in dict.fromkeys([*set_by_work, *(move.device for slot in self.slots for move in slot)]):
            if device in known:
                stood = set(known[device].phases) - set(self.right[0].open_phases.get(device, ""))
                if stays := letters(stood & set(self.right[-1].open_phases.get(device, ""))):
                    last = len(self.slots) - 1
                    again = Move("", device, stays, CLOSE)
                    what = f"{device} closed at the end, as it once stood"
                    yield "old half", last, what, self._done(last, *self.slots[last], again)

    def _taken_for(self, at: int, move: Move) -> Iterator[Move]:
        stands = self.right[at - 1].open_phases
        for device, phases in taken_for(move, self.part_of[at].compiled, stands):
            yield replace(move, device=device, phases=phases)

    def _done(self, at: int, *moves: Move) -> _Slots:
        """The slots with these moves in one of them."""
        return (*self.slots[:at], moves, *self.slots[at + 1 :])
