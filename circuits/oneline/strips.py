"""Rows of a drawing cut into strips of a width, every stop and device with its place."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from circuits.core.network import Network
from circuits.core.oneline import Row, Span, Stop

# Units of the drawing are CSS pixels.
PLACE = 82  # from one pole to the next
DEVICE = 92
LEFT = 30
RIGHT = 26

_Noted = tuple[Span | None, Stop, tuple[tuple[str, int], ...]]


@dataclass(frozen=True, slots=True)
class Place:
    """A stop at `x`, with the span that leads to it and the place of that span's device.

    `labelled` is false where the pole's number already stands beside it; the `notes` stand under it, each
    with the number of the row that it names, 0 where it names none.
    """

    stop: Stop
    x: float
    lead: Span | None = None
    lead_x: float = 0.0
    labelled: bool = True
    notes: tuple[tuple[str, int], ...] = ()


@dataclass
class Strip:
    """A run of places that fits the width. The strokes go on to the left and to the right where it is cut.

    `row` is the number of the row that begins with it, 0 where one goes on.
    """

    title: str
    row: int = 0
    places: list[Place] = field(default_factory=list)
    goes_on_left: bool = False
    goes_on_right: bool = False


def strips_of(network: Network, rows: tuple[Row, ...], width: int) -> Iterator[tuple[int, list[Strip]]]:
    """Each row's number, from 1, and its strips.

    A branch begins with the stop that it branches off from, and ends with the one that its last stop is
    joined to.
    """
    row_of = {stop.node: number for number, row in enumerate(rows, start=1) for stop in row.stops}
    branches: dict[str, list[int]] = {}
    for number, row in enumerate(rows, start=1):
        branches.setdefault(row.origin, []).append(number)
    for number, row in enumerate(rows, start=1):
        stops: list[_Noted] = []
        if row.origin:
            stops.append((None, Stop(row.origin), (_row(row_of[row.origin]),)))
        for lead, stop in zip((row.lead, *row.spans), row.stops, strict=True):
            notes = tuple((f"to row {other}", other) for other in branches.get(stop.node, ()))
            stops.append((lead, stop, notes or ((("goes on", 0),) if stop.goes_on else ())))
        for _, span, beyond in last_closing(row):
            stops.append((span, Stop(beyond), (_row(row_of[beyond]),)))
        strips = _cut(network, stops, width, f"Row {number}" if len(rows) > 1 else "")
        strips[0].row = number
        yield number, strips


def _row(number: int) -> tuple[str, int]:
    return f"row {number}", number


def last_closing(row: Row) -> list[tuple[str, Span, str]]:
    """The span, if any, with which a row ends at a stop of an earlier one."""
    own = {stop.node for stop in row.stops}
    return [one for one in row.closes if one[0] == row.stops[-1].node and one[2] not in own][:1]


def _cut(network: Network, stops: list[_Noted], width: int, title: str) -> list[Strip]:
    strips = [Strip(title)]
    x = float(LEFT)
    pole = ""
    for lead, stop, notes in stops:
        here = network.pole(stop.node) or network.node[stop.node].structure
        room = 0.0
        # A node behind a device on the same pole needs no place of its own, unless something hangs there.
        if here != pole or stop.drops or notes:
            room = PLACE * max(1, len(stop.drops))
        crossing = DEVICE if lead and lead.kind != "line" else 0
        if x + crossing + room > width - RIGHT and strips[-1].places:
            strips[-1].goes_on_right = True
            on_from = f"on from {network.pole(strips[-1].places[-1].stop.node)}"
            strips.append(Strip(f"{title}, {on_from}" if title else f"O{on_from[1:]}", goes_on_left=True))
            x = LEFT
        lead_x = x + crossing / 2
        x += crossing + room
        place = Place(stop, x - room / 2, lead, lead_x, labelled=here != pole, notes=notes)
        strips[-1].places.append(place)
        pole = here
    if stops[-1][1].goes_on:
        strips[-1].goes_on_right = True
    first = strips[0].places[0]
    strips[0].places[0] = replace(first, labelled=True)
    # The last stop says the street: a branch begins where it leaves another one.
    structure = network.structure.get(network.node[strips[0].places[-1].stop.node].structure)
    strips[0].title = " · ".join(part for part in (title, structure.street if structure else "") if part)
    return strips
