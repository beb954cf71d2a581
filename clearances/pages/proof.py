"""The proof of isolation of one clearance, for the desk, for whoever is on it, and on paper."""

from collections import defaultdict
from typing import Any

from circuits.core.proving.proof import Line, Proof, Status

from .. import proofs
from ..facts import OVER
from ..models import Person
from . import words
from .one import One
from .picture import Row

NAMED = 40  # further sources named of each depth; the rest is counted

# The loudest first. Each has a sign of its own shape, so that it is not told by colour.
SAID = {
    Status.NOT_BLOCKED: ("Not blocked", "\u25b2", "now"),
    Status.NOT_KNOWN: ("Can't be known", "?", "soon"),
    Status.BLOCKED: ("Blocked", "\u25a0", "calm"),
}


def context(person: Person, back: str, number: int) -> dict[str, Any]:
    """What templates/proof.html names."""
    return of(One(person, back, number))


def of(one: One) -> dict[str, Any]:
    """The same for a picture that was read already."""
    row = one.clearance
    points = {device: phases for device, phases in one.chosen.items() if phases}
    proof = proofs.proof_of(row, points, planned=one.plan)
    return {
        "plan": {"for": words.day(row.window_start)} if one.plan else None,
        "over": row.state in OVER,
        "clearance": {
            "number": row.pk,
            "holder": str(row.holder),
            "state": words.state(row),
            "limits": words.limits(row)[0],
        },
        "faults": proof.faults,
        "notes": proof.notes,
        "parts": [_part(one, proof, status) for status in Status],
        "as_of": proof.as_of,
        "revision": proof.revision,
        "assumed": proof.assumed,
        "not_on_record": proof.not_on_record,
        "points_done": one.complete,
        "points_all": len(one.standing),
    }


def _part(one: One, proof: Proof, status: Status) -> Row:
    name, sign, level = SAID[status]
    lines = [_line(one, line) for line in proof.of(status)]
    return {"name": name, "sign": sign, "level": level, "lines": lines, "blocked": status is Status.BLOCKED}


def _line(one: One, line: Line) -> Row:
    return {
        "phases": words.spaced(line.phases),
        "source": one.source(line.source),
        "way": line.words,
        "by": _by(one, line) if line.point else "",
        "settles": line.measure.words if line.measure else "",
        "refuses": line.refuses,
        "opens": line.depth,
        "more": len(line.further),
        "further": _further(line),
    }


def _by(one: One, line: Line) -> str:
    tag = next((point.tag_number for point in one.standing if point.device == line.point), "")
    phases = words.spaced(one.chosen[line.point])
    return f"{line.point} {phases}, tag {tag}, {one.where(line.point)}"


def _further(line: Line) -> list[str]:
    """What else comes in that way, by how many opens stand before it."""
    by_opens: dict[int, list[str]] = defaultdict(list)
    for source, opens, _ in line.further:
        by_opens[opens].append(source)
    return [
        f"{opens} open{'s' * (opens != 1)} in a row: {', '.join(found[:NAMED])}"
        + (f", and {len(found) - NAMED} more" if len(found) > NAMED else "")
        for opens, found in sorted(by_opens.items())
    ]
