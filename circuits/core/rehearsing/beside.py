"""What moves of an order, or slips in it, do to people who work energized and at devices that nobody is to
operate."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from circuits.core.answers import is_more
from circuits.core.rehearsing.rehearsal import (
    CHECK_OPEN,
    CLOSE,
    OPEN,
    REMOVE_TAG,
    Frame,
    Hold,
    Untouched,
    there,
)

LOST, FED = "lost", "fed"
_DONE = {
    OPEN: "is opened",
    CLOSE: "is closed",
    CHECK_OPEN: "is checked open",
    REMOVE_TAG: "has a tag taken off",
}
_DEAD = "the holder says first whether they stand down or stay, and yes before it is closed again"
_LIVE = "a test close on people at work, never before the holder has said yes"


@dataclass(frozen=True, slots=True)
class Concern:
    """What is done to one of them, and `by` which device: one of the operations at its own device; or the
    people of a hold have less voltage after than before (`LOST`), or more (`FED`)."""

    of: Hold | Untouched
    does: str
    by: str

    @property
    def words(self) -> str:
        """
        >>> Concern(Untouched("F-1", "Ivo Brandt has given it back"), CLOSE, "F-1").words
        'F-1, which nobody operates until Ivo Brandt has given it back, is closed'
        """
        if isinstance(self.of, Untouched):
            return f"{self.by}, which nobody operates until {self.of.until}, {_DONE[self.does]}"
        if self.does == LOST:
            return f"{self.of.name} loses its supply by {self.by}: {_DEAD}"
        if self.does == FED:
            return f"{self.of.name} is energized by {self.by}: {_LIVE}"
        then = _DEAD if self.does == OPEN else _LIVE
        return f"{self.by} {_DONE[self.does]} under {self.of.name}: {then}"


def concerns(beside: Iterable[Hold | Untouched], frame: Frame) -> Iterator[Concern]:
    """What the moves of a frame do to those beside the order. An operation at the device of a hold stands for
    what it does to its people.

    Cost: a trace of the frame and of the one before it, if there is a hold.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> from circuits.core.rehearsing.rehearsal import Move, Order, Part, rehearse
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> hold = Hold("hold 7", "R-1", frozenset({("tap", "A")}))
    >>> moves = Move("1", "C-1", "A", OPEN), Move("2", "C-1", "A", CLOSE)
    >>> frames = rehearse(Order((Part(compiled, moves),), {}))
    >>> [(one.does, one.by) for frame in frames for one in concerns([hold], frame)]
    [('lost', 'C-1'), ('fed', 'C-1')]
    """
    for one in beside:
        if isinstance(one, Untouched):
            at = [move for move in frame.done if move.device == one.device]
        else:
            at = [
                move for move in frame.done if move.device == one.device and move.operation in (OPEN, CLOSE)
            ]
            if not at:
                yield from _changed(one, frame)
        for move in at:
            yield Concern(one, move.operation, move.device)


def _changed(hold: Hold, frame: Frame) -> Iterator[Concern]:
    """What changes where the people of a hold are, by moves elsewhere or by the work itself."""
    if not frame.before:
        return
    known = {
        at: was for at in there(frame.trace, hold.nodes) if (was := frame.before.answer(*at)) is not None
    }
    for does, operation, changed in (
        (LOST, OPEN, any(is_more(frame.trace.answer(*at), was) for at, was in known.items())),
        (FED, CLOSE, any(is_more(was, frame.trace.answer(*at)) for at, was in known.items())),
    ):
        if changed:
            by = [move.device for move in frame.done if move.operation == operation]
            yield Concern(hold, does, ", ".join(by) or "the work")
