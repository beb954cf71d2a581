"""Strips and words -> shapes with coordinates. Every stroke is one phase.

Nothing is told by a style alone: states stand in words over each strip, positions at each device, and
`OneLine.sentences` says all of it without the picture.
"""

import textwrap
from collections.abc import Collection, Iterable, Mapping, Sequence

from circuits.core.network import Compiled
from circuits.core.oneline import Drop, Row, Span, layout
from circuits.core.trace import Trace
from circuits.core.values import PHASES, letters
from circuits.oneline.shapes import STYLES, Band, Box, Mark, OneLine, Stroke, Text
from circuits.oneline.strips import LEFT, PLACE, Place, Strip, last_closing, strips_of
from circuits.oneline.words import Words

_GAP = 12  # between the strokes of two phases
_LINE = 15  # of text
_LETTER = 7.7  # width of an average letter, for breaking lines
_HALF = 5  # of a device's mark


def draw(
    *,
    compiled: Compiled,
    state: Trace,
    around: Collection[str] | str,
    width: int = 960,
    tags: Mapping[str, Sequence[str]] | None = None,
    bands: Sequence[Band] = (),
    notes: Mapping[str, Sequence[str]] | None = None,
) -> OneLine:
    """Draw a circuit (its id) or the surroundings of some nodes, as the trace has it, `width` pixels wide.

    `tags` has the numbers of the tags by device, `notes` what else stands there, `bands` the work clearances.
    A row that is too long goes on in a strip below. Raises ValueError as `layout` does.
    """
    pen = Pen(Words(compiled, state, tags or {}, notes), width, bands, set())
    rows = layout(compiled, around).rows
    for (_, strips), row in zip(strips_of(compiled.network, rows, width), rows, strict=True):
        pen.row(row, strips)
    return pen.out


def _notes(strip: Strip) -> int:
    """How many lines of notes stand under the poles of a strip."""
    return max(len(place.notes) for place in strip.places)


class Pen:
    """Draws rows under each other, into `out`. `anchored` are the ids that the page has already."""

    def __init__(self, words: Words, width: int, bands: Sequence[Band], anchored: set[str]) -> None:
        self.words = words
        self.bands = [(band, dict(band.limits)) for band in bands]
        self.out = OneLine(width)
        self._anchored = anchored

    def row(self, row: Row, strips: Iterable[Strip]) -> None:
        """Draw a row, cut into strips."""
        for strip in strips:
            self.strip(strip)
        for closing in row.closes:
            if closing not in last_closing(row):
                said = self.words.of_a_closing(*closing)
                self.out.sentences.append(said)
                self.say(said)

    def _anchors(self, *wanted: str) -> tuple[str, ...]:
        """Those of the ids that no word carries yet: a pole stands at the head of its branches again."""
        new = tuple(one for one in wanted if one not in self._anchored)
        self._anchored.update(new)
        return new

    def say(self, sentence: str, style: str = "state", anchors: tuple[str, ...] = ()) -> None:
        """A line over a strip, broken where it is too long."""
        for line in textwrap.wrap(sentence, int(self.out.width / _LETTER)):
            self.out.height += _LINE
            self.out.texts.append(Text(0, self.out.height, line, style, anchors=anchors))
            anchors = ()

    def strip(self, strip: Strip) -> None:
        self.out.height += 8
        if strip.title:
            self.say(strip.title, "title", (f"row-{strip.row}",) if strip.row else ())
        for energized, said in self.words.runs(strip.places):
            self.out.sentences.append(f"{said}.")
            if not energized:
                self.say(said)
        top = self._over(strip)
        self._strokes(strip, top)
        self._boxes(strip, top)
        bottom = top + 2 * _GAP
        for place in strip.places:
            self.out.height = max(self.out.height, self._under(place, top, bottom))
        self.out.height = max(self.out.height, bottom) + 8

    def _over(self, strip: Strip) -> float:
        """The numbers of the poles; the height of the strokes of phase A."""
        here = [(band, limits) for band, limits in self.bands if self._inside(strip, limits)]
        self.out.height += _LINE * (len(here) + 1)
        label = self.out.height
        noted = _notes(strip)
        for place in strip.places:
            if place.labelled:
                name = self.words.pole(place.stop.node)
                # A long name stands over what comes after it.
                long = len(name) * _LETTER > PLACE
                style = "pole first" if long else "pole"
                anchors = self._anchors(f"pole-{self.words.network.node[place.stop.node].structure}")
                self.out.texts.append(Text(LEFT if long else place.x, label, name, style, anchors=anchors))
            for line, (note, row) in enumerate(place.notes, start=1):
                self.out.texts.append(Text(place.x, label + _LINE * line, note, "note", row=row))
        self.out.height += _LINE * noted
        return self.out.height + 14

    def _y(self, top: float, phase: str) -> float:
        return top + _GAP * PHASES.index(phase)

    def _line(self, x1: float, y1: float, x2: float, y2: float, node: str, phase: str) -> None:
        style = STYLES[self.words.state.answer(node, phase)]
        self.out.strokes.append(Stroke(x1, y1, x2, y2, style))

    def _strokes(self, strip: Strip, top: float) -> None:
        first, last = strip.places[0], strip.places[-1]
        node_phases = self.words.network.node[first.stop.node].phases
        drawn = letters({phase for place in strip.places if place.lead for phase in place.lead.phases})
        for phase in drawn or node_phases:
            self.out.texts.append(Text(8, self._y(top, phase) + 4, phase, "letter"))
        highest = self._y(top, (drawn or node_phases)[0])
        before = None
        if first.stop.goes_on and not first.lead:
            for phase in node_phases:
                y = self._y(top, phase)
                self._line(LEFT - 14, y, first.x, y, first.stop.node, phase)
        for place in strip.places:
            if place.lead:
                start = before.x if before else LEFT - 14
                self._span(place, place.lead, before.stop.node if before else "", start, top)
            if place.labelled:
                self.out.marks.append(Mark(place.x, top - 9, "pole", highest - top + 9))
            before = place
        if strip.goes_on_right:
            for phase in self.words.network.node[last.stop.node].phases:
                self._line(
                    last.x, self._y(top, phase), self.out.width, self._y(top, phase), last.stop.node, phase
                )

    def _span(self, place: Place, lead: Span, before: str, start: float, top: float) -> None:
        node = place.stop.node
        for phase in lead.phases:
            y = self._y(top, phase)
            if lead.kind != "device":
                self._line(start, y, place.x, y, node, phase)
                continue
            ends = self.words.network.device[lead.id]
            other = ends.from_node if ends.to_node == node else ends.to_node
            self._line(start, y, place.lead_x - _HALF, y, before or other, phase)
            self._line(place.lead_x + _HALF, y, place.x, y, node, phase)
            self._device(lead.id, phase, place.lead_x, y)

    def _device(self, device: str, phase: str, x: float, y: float) -> None:
        opened = phase in self.words.open_phases(device)
        self.out.marks.append(Mark(x, y, "open" if opened else "closed"))

    def _under(self, place: Place, top: float, bottom: float) -> float:
        """What is written and hangs below the strokes at a place; how far down it goes."""
        lowest = bottom
        if place.lead and place.lead.kind != "line":
            lowest = self._texts(place.lead_x, bottom + 20, place.lead.id, place.lead.kind)
            if place.lead.kind == "device":
                self.out.sentences.append(self.words.of_a_device(place.lead.id))
        count = len(place.stop.drops)
        for number, drop in enumerate(place.stop.drops):
            x = place.x + PLACE * (number - (count - 1) / 2)
            lowest = max(lowest, self._drop(drop, place.stop.node, x, top, bottom))
        self.out.sentences += self.words.of_a_stop(place.stop)
        return lowest

    def _texts(self, x: float, y: float, name: str, kind: str) -> float:
        device = name if kind == "device" else ""
        anchors = self._anchors(f"{kind}-{name}")
        self.out.texts.append(Text(x, y, name, "device", device=device, anchors=anchors))
        for words in self.words.under_a_device(name) if kind == "device" else ():
            y += _LINE
            self.out.texts.append(Text(x, y, words, "under"))
        return y

    def _drop(self, drop: Drop, node: str, x: float, top: float, bottom: float) -> float:
        network = self.words.network
        if drop.kind == "transformer":
            phases = network.transformer[drop.id].phases
        else:
            phases = next(one.phases for one in network.capacitors if one.id == drop.id)
        y_device, y_end = bottom + 18, bottom + 36
        for number, phase in enumerate(phases):
            across = x + 12 * (number - (len(phases) - 1) / 2)
            start = self._y(top, phase)
            if drop.device:
                self._line(across, start, across, y_device - _HALF, node, phase)
                self._line(across, y_device + _HALF, across, y_end, drop.node, phase)
                self._device(drop.device, phase, across, y_device)
            else:
                self._line(across, start, across, y_end, node, phase)
            self.out.marks += [Mark(across, start, "joint"), Mark(across, y_end + 5, drop.kind)]
        y = y_end + 17
        anchors = self._anchors(f"{drop.kind}-{drop.id}")
        if drop.device and self.words.under_a_device(drop.device):
            y = self._texts(x, y + _LINE, drop.device, "device")
        elif drop.device:
            anchors += self._anchors(f"device-{drop.device}")
        for words in self.words.under_a_drop(drop):
            y += _LINE
            self.out.texts.append(Text(x, y, words, "drop", anchors=anchors))
            anchors = ()
        return y

    def _inside(self, strip: Strip, limits: Mapping[str, str]) -> list[list[Place]]:
        """The runs of places of a strip that are inside some limits."""
        runs: list[list[Place]] = [[]]
        for place in strip.places:
            if place.stop.node in limits:
                runs[-1].append(place)
            elif runs[-1]:
                runs.append([])
        return [run for run in runs if run]

    def _boxes(self, strip: Strip, top: float) -> None:
        level = 0
        label = top - 14 - _LINE * (1 + _notes(strip))
        for band, limits in self.bands:
            runs = self._inside(strip, limits)
            for run in runs:
                phases = sorted({phase for place in run for phase in limits[place.stop.node]})
                y, y_end = self._y(top, phases[0]) - 9, self._y(top, phases[-1]) + 9
                self.out.boxes.append(Box(run[0].x - 18, y, run[-1].x - run[0].x + 36, y_end - y))
                poles = list(dict.fromkeys(self.words.pole(place.stop.node) for place in run))
                where = " to ".join(dict.fromkeys((poles[0], poles[-1])))
                self.out.sentences.append(f"Work clearance {band.words}: {where}, {', '.join(phases)}.")
            if runs:
                far = runs[0][0].x - 18 + len(band.words) * _LETTER > self.out.width
                x = self.out.width if far else runs[0][0].x - 18
                self.out.texts.append(
                    Text(x, label - _LINE * level, band.words, "band last" if far else "band")
                )
                level += 1
