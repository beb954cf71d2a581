"""A switching order played on the networks that it is for, move by move: what each one changes, and who
stands on what changed.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from circuits.core.answers import Answer
from circuits.core.network import Compiled
from circuits.core.parallels import Parallels, loops_and_ties, parallels
from circuits.core.standing import also_open, still_there, without
from circuits.core.trace import Trace, trace
from circuits.core.values import letters

OPEN, CLOSE, CHECK_OPEN, REMOVE_TAG = "open", "close", "check_open", "remove_tag"
NodePhase = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Move:
    """A step of an order, by what people call it, such as "3"; `operation` is one of those above, of which
    only the first two move anything."""

    step: str
    device: str
    phases: str
    operation: str


@dataclass(frozen=True)
class Part:
    """The moves of an order on one network, such as the isolate half, or the restore half on the network as
    the work leaves it. `sets` are positions that the work itself leaves: device id -> the phases that stand
    open."""

    compiled: Compiled
    moves: tuple[Move, ...]
    sets: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Crew:
    """Who depends on node-phases having no voltage, and in which frames: from `first` to `last`, or to the
    end."""

    name: str
    nodes: frozenset[NodePhase]
    first: int = 0
    last: int | None = None

    def is_there(self, frame: int) -> bool:
        return self.first <= frame and (self.last is None or frame <= self.last)


@dataclass(frozen=True, slots=True)
class Hold:
    """People who work energized on node-phases all the time, with reclosing off at a device."""

    name: str
    device: str
    nodes: frozenset[NodePhase]


@dataclass(frozen=True, slots=True)
class Untouched:
    """A device that nobody operates until something is done, in words such as "the holder has ended it"."""

    device: str
    until: str


@dataclass(frozen=True, slots=True)
class Order:
    """`open_phases` is the whole state before the first move: device id -> letters. `beside` is what else
    stands on the network, all the time.

    Its frames are the states of the network: one before the first move of each part, and one after each move.
    """

    parts: tuple[Part, ...]
    open_phases: Mapping[str, str]
    crews: tuple[Crew, ...] = ()
    beside: tuple[Hold | Untouched, ...] = ()

    @property
    def slots(self) -> tuple[tuple[Move, ...], ...]:
        """What is done between each frame and the one before it; nothing at the beginning of a part."""
        return tuple(slot for part in self.parts for slot in ((), *((move,) for move in part.moves)))


class _State:
    """A state of a network, and what was worked out of it."""

    def __init__(self, compiled: Compiled, opened: Mapping[str, str]) -> None:
        self.compiled = compiled
        self.opened = opened

    @cached_property
    def trace(self) -> Trace:
        return trace(self.compiled, self.opened)

    @cached_property
    def parallels(self) -> Parallels:
        return parallels(self.trace)

    @cached_property
    def loops_and_ties(self) -> Parallels:
        return loops_and_ties(self.trace)

    @cached_property
    def out(self) -> frozenset[str]:
        return self.trace.without_supply()


@dataclass(frozen=True)
class Frame:
    """The network after some moves: `done` is what was done since the frame `before`, which is None for the
    first. `ends` says that it is the last of its part."""

    number: int
    done: tuple[Move, ...]
    open_phases: Mapping[str, str]
    before: "Frame | None"
    crews: tuple[Crew, ...]
    ends: bool
    state: _State

    @property
    def trace(self) -> Trace:
        return self.state.trace

    @property
    def parallels(self) -> Parallels:
        return self.state.parallels

    @property
    def out(self) -> frozenset[str]:
        """The premises whose supply is not energized on all its phases."""
        return self.state.out

    @cached_property
    def newly_out(self) -> tuple[str, ...]:
        return tuple(sorted(self.out - (self.before.out if self.before else frozenset())))

    @cached_property
    def back(self) -> tuple[str, ...]:
        return tuple(sorted(self.before.out - self.out)) if self.before else ()

    @cached_property
    def single_phased(self) -> tuple[str, ...]:
        """The premises of more than one phase that have lost some of them, not all."""
        graph = self.trace.compiled.graph
        found = []
        for one, state in self.trace.not_energized().items():
            transformer, phases = graph.services[graph.service_of[one]].served[0]
            supply = phases if transformer.joins else transformer.phases
            if 0 < len(state.phases_out) < len(supply):
                found.append(one)
        return tuple(sorted(found))

    @cached_property
    def made(self) -> Parallels:
        """What is joined here and was not before."""
        return self.parallels.beyond(self.before.parallels) if self.before else self.parallels

    @cached_property
    def stood_on(self) -> tuple[tuple[Crew, str], ...]:
        """Each crew that is on the line and stands on what changed, and on which phases."""
        if not self.before:
            return ()
        found = []
        for crew in self.crews:
            phases = {
                phase
                for node, phase in there(self.trace, crew.nodes)
                if self.before.answer(node, phase) not in (None, self.trace.answer(node, phase))
            }
            if phases:
                found.append((crew, letters(phases)))
        return tuple(found)

    def answer(self, node: str, phase: str) -> Answer | None:
        """The answer of a node-phase, None where it is not there."""
        compiled = self.trace.compiled
        return self.trace.answer(node, phase) if (node, phase) in compiled.index else None


def there(state: Trace, nodes: Collection[NodePhase]) -> Iterator[NodePhase]:
    """Those of the node-phases that the network has."""
    return (at for at in sorted(nodes) if at in state.compiled.index)


class Player:
    """Plays orders on the same networks; a state that has come up before is not worked out again."""

    def __init__(self) -> None:
        self._states: dict[tuple[int, frozenset[tuple[str, str]]], _State] = {}

    def play(self, order: Order, slots: Sequence[Sequence[Move]] | None = None) -> tuple[Frame, ...]:
        """The frames of an order, or with other moves done in its `slots`."""
        slots = order.slots if slots is None else slots
        frames: list[Frame] = []
        opened = dict(order.open_phases)
        for part in order.parts:
            there = part.compiled.network.device
            opened = {
                name: still_there(phases, there[name].phases)
                for name, phases in {**opened, **part.sets}.items()
                if phases and name in there
            }
            for place in range(len(part.moves) + 1):
                number = len(frames)
                for move in slots[number]:
                    _do(move, opened, part.compiled)
                frames.append(
                    Frame(
                        number,
                        tuple(slots[number]),
                        dict(opened),
                        frames[-1] if frames else None,
                        tuple(crew for crew in order.crews if crew.is_there(number)),
                        place == len(part.moves),
                        self._state(part.compiled, opened),
                    )
                )
        return tuple(frames)

    def _state(self, compiled: Compiled, opened: Mapping[str, str]) -> _State:
        key = id(compiled), frozenset((device, phases) for device, phases in opened.items() if phases)
        return self._states.setdefault(key, _State(compiled, dict(opened)))


def rehearse(order: Order) -> tuple[Frame, ...]:
    """The frames of an order, forward; back is the same read from the end.

    A device that a network has not, as after the work has taken it away, is not moved there; of phases that a
    device has not all that it has are, where its tap has moved away from them. Cost: a trace for each frame,
    when it is first asked for.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> crew = Crew("the crew", frozenset({("tap", "A")}), first=1)
    >>> moves = Move("1", "C-1", "A", OPEN), Move("2", "C-1", "A", CLOSE)
    >>> order = Order((Part(compiled, moves),), {}, (crew,))
    >>> [str(frame.trace.answer("tap", "A")) for frame in rehearse(order)]
    ['energized', 'de-energized by report', 'energized']
    >>> [[one.name for one, _ in frame.stood_on] for frame in rehearse(order)]
    [[], ['the crew'], ['the crew']]
    """
    return Player().play(order)


def _do(move: Move, opened: dict[str, str], compiled: Compiled) -> None:
    device = compiled.network.device.get(move.device)
    if device is None or move.operation not in (OPEN, CLOSE):
        return
    moved = {move.device: still_there(move.phases, device.phases)}
    stand = {move.device: opened.get(move.device, "")}
    opened |= also_open(stand, moved) if move.operation == OPEN else without(stand, moved)
