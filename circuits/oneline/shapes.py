"""What a drawing is made of: shapes with coordinates in CSS pixels, words at places, and sentences."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from circuits.core.trace import Answer

STYLES = {
    Answer.ENERGIZED: "energized",
    Answer.BACKFED: "backfed",
    Answer.GENERATOR: "generator",
    Answer.DEENERGIZED: "deenergized",
}

_SQUARE = "m-4.5-4.5h9v9h-9z"
_RING = "a5.5 5.5 0 1 0 11 0a5.5 5.5 0 1 0-11 0z"
# The style of a mark -> its CSS classes, and its shape around its place.
_MARKS = {
    "joint": ("joint", "m-2.5 0a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0-5 0z"),
    "transformer": ("unit", f"m-5.5 0{_RING}m0 7{_RING}"),
    "capacitor": ("unit", "m-8-2h16m0 5h-16m8 0v6"),
    "closed": ("device", _SQUARE),
    "open": ("device open", _SQUARE),
}


@dataclass(frozen=True, slots=True)
class Band:
    """A work clearance on the drawing: what is written over it, and the (node, phases) inside its limits."""

    words: str
    limits: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a place; `style` is of "title", "state", "pole", "note", "letter", "band", "device", "under".

    With `device` they lead to the page of one, with `row` to where that row begins. By the `anchors` an
    address leads here: "device-C-208", "pole-P-208", "row-2".
    """

    x: float
    y: float
    words: str
    style: str
    device: str = ""
    row: int = 0
    anchors: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stroke:
    """A piece of one phase, of a style of `STYLES`."""

    x1: float
    y1: float
    x2: float
    y2: float
    style: str


@dataclass(frozen=True, slots=True)
class Mark:
    """One phase of a device, "closed" or "open"; a "joint", "transformer" or "capacitor"; a "pole", which is
    a line of that `height`."""

    x: float
    y: float
    style: str
    height: float = 0.0


@dataclass(frozen=True, slots=True)
class Box:
    """The limits of a work clearance."""

    x: float
    y: float
    width: float
    height: float


@dataclass
class OneLine:
    """All that the template draws, and the same in sentences; `legend` has the styles that occur, with
    their words."""

    width: int
    height: float = 0
    boxes: list[Box] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)

    @property
    def legend(self) -> list[tuple[str, str]]:
        used = {stroke.style for stroke in self.strokes}
        return [(style, str(answer)) for answer, style in STYLES.items() if style in used]

    @property
    def paths(self) -> list[tuple[str, str]]:
        """The strokes and marks as (CSS classes, path data), one path a kind: a feeder has thousands."""
        found: dict[str, list[str]] = {}
        for one in self.strokes:
            found.setdefault(one.style, []).append(f"M{one.x1:g} {one.y1:g}L{one.x2:g} {one.y2:g}")
        for mark in self.marks:
            style, shape = _MARKS.get(mark.style, (mark.style, f"v{mark.height:g}"))
            found.setdefault(style, []).append(f"M{mark.x:g} {mark.y:g}{shape}")
        return [(style, "".join(pieces)) for style, pieces in found.items()]
