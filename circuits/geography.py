"""The network as a map draws it: where it lies, which is the same for a whole revision, and how it stands.

Both are plain values for JSON, kept small: places are whole millionths of a degree (0.1 m) from a corner, and
a line says of each phase which section it belongs to, so that a new state is one digit a section.
"""

import functools
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from circuits.core.network import Compiled
from circuits.core.trace import Answer, Trace
from circuits.core.values import PHASES, normally_open
from circuits.models import Structure
from circuits.oneline import Band

MICRO = 1_000_000
ANSWERS = tuple(Answer)


@functools.lru_cache(maxsize=1)
def lie(compiled: Compiled) -> dict[str, Any]:
    """Where the lines and devices of a revision are, and how many have no place. One query, 0.5 s for a
    hundred thousand lines, once a process and revision.

    `places` has the longitude and latitude of every structure in turn, `lines` six numbers a line: the places
    it goes from and to, west to east, its circuit, and its sections on A, B and C (-1 for a phase that it has
    not). `missing` counts what can't be drawn: lines and devices at a structure without coordinates.
    """
    network = compiled.network
    known = {
        pk: (round(longitude * MICRO), round(latitude * MICRO))
        for pk, longitude, latitude in Structure.objects.values_list("pk", "longitude", "latitude")
        if longitude is not None and latitude is not None
    }
    circuits = {circuit.id: place for place, circuit in enumerate(network.circuits)}
    used: dict[str, int] = {}

    def place_of(structure: str) -> int:
        return used.setdefault(structure, len(used)) if structure in known else -1

    lines: list[int] = []
    missing = {"lines": 0, "devices": 0}
    for line in network.lines:
        ends = sorted(
            (network.node[node].structure for node in (line.from_node, line.to_node)),
            key=lambda structure: known.get(structure, ()),
        )
        start, end = place_of(ends[0]), place_of(ends[1])
        if start < 0 or end < 0:
            missing["lines"] += 1
        elif start != end:
            lines += [start, end, circuits.get(line.circuit, -1)]
            lines += [_section(compiled, line.from_node, p) if p in line.phases else -1 for p in PHASES]
    devices = []
    for device in network.devices:
        place = place_of(device.structure or network.node[device.from_node].structure)
        if place < 0:
            missing["devices"] += 1
        else:
            devices.append([device.id, place, device.phases])
    for structure in network.structures:
        if structure.kind == "station":
            place_of(structure.id)
    streets: dict[str, int] = {"": 0}
    structures = [network.structure[one] for one in used]
    west = min((known[one][0] for one in used), default=0)
    south = min((known[one][1] for one in used), default=0)
    return {
        "revision": network.revision,
        "corner": [west, south],
        "places": [n for one in used for n in (known[one][0] - west, known[one][1] - south)],
        "ids": list(used),
        "names": [one.label or one.id for one in structures],
        "street": [streets.setdefault(one.street, len(streets)) for one in structures],
        "streets": list(streets),
        "stations": [place for place, one in enumerate(structures) if one.kind == "station"],
        "circuits": [[one.id, one.name] for one in network.circuits],
        "lines": lines,
        "devices": devices,
        "missing": missing,
    }


def _section(compiled: Compiled, node: str, phase: str) -> int:
    return int(compiled.section[compiled.index[node, phase]])


def stand(
    compiled: Compiled,
    state: Trace,
    opened: Mapping[str, str],
    tags: Mapping[str, Sequence[str]],
    bands: Sequence[Band],
    notes: Mapping[str, Sequence[str]] | None = None,
) -> dict[str, Any]:
    """How the network of `lie` stands: `sections` has for each section the number of its answer, a digit
    each; `open` the phases of the devices that stand open, `moved` the devices out of their normal position.

    A work clearance has the pairs of places that its limits join, and those of its limits that no line of its
    own joins to another. Cost: one pass over the sections and the lines.
    """
    normal = normally_open(compiled.network)
    return {
        "revision": compiled.network.revision,
        "answers": [str(answer) for answer in ANSWERS],
        "sections": "".join(str(ANSWERS.index(answer)) for answer in answers_of(compiled, state)),
        "open": dict(opened),
        "moved": sorted(one for one in {*opened, *normal} if opened.get(one) != normal.get(one)),
        "tags": {device: list(numbers) for device, numbers in tags.items()},
        "notes": {device: list(words) for device, words in (notes or {}).items()},
        "bands": [_limits(compiled, band) for band in bands],
    }


def answers_of(compiled: Compiled, state: Trace) -> list[Answer]:
    """The answer of every section."""
    return [state.answer(*compiled.points[point]) for point in _points(compiled)]


@functools.lru_cache(maxsize=1)
def _points(compiled: Compiled) -> list[int]:
    """A node-phase of every section."""
    return [int(point) for point in np.unique(compiled.section, return_index=True)[1]]


@functools.lru_cache(maxsize=1)
def sections_of_circuits(compiled: Compiled) -> dict[str, set[int]]:
    """Circuit -> the sections that its lines belong to."""
    found: dict[str, set[int]] = {circuit.id: set() for circuit in compiled.network.circuits}
    for line in compiled.network.lines:
        if line.circuit:
            found[line.circuit] |= {_section(compiled, line.from_node, phase) for phase in line.phases}
    return found


def _limits(compiled: Compiled, band: Band) -> dict[str, Any]:
    place = {structure: number for number, structure in enumerate(lie(compiled)["ids"])}
    network = compiled.network
    limits = dict(band.limits)

    def at(node: str) -> int | None:
        return place.get(network.node[node].structure)

    pairs = []
    for line in network.lines:
        phases = set(line.phases) & set(limits.get(line.from_node, "")) & set(limits.get(line.to_node, ""))
        start, end = at(line.from_node), at(line.to_node)
        if phases and start is not None and end is not None and start != end:
            pairs.append([start, end])
    joined = {one for pair in pairs for one in pair}
    alone = {found for node in limits if (found := at(node)) is not None} - joined
    return {"words": band.words, "pairs": pairs, "alone": sorted(alone)}
