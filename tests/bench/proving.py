"""The proof of isolation against the search that a clearance is given by, on the same network and limits."""

import random
from collections.abc import Iterator
from pathlib import Path

from circuits.core.isolation import LivePath, let_in, live_paths
from circuits.core.network import Compiled, compile_network
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import prove
from circuits.core.values import normally_open

from .measure import Row, race
from .tracing import read

Job = tuple[list[tuple[str, str]], dict[str, str]]


def jobs(compiled: Compiled, count: int, phases: str = "") -> list[Job]:
    """Limits and points of clearances all over the network, the same ones each time: the far side of a
    cutout, or of a device of these phases, and every device over which a source still comes there, opened
    until none does."""
    dice = random.Random(7)
    some = [
        one for one in compiled.network.devices if (one.phases == phases if phases else one.kind == "cutout")
    ]
    found: list[Job] = []
    for device in dice.sample(some, len(some)):
        limits = [(device.to_node, device.phases)]
        points: dict[str, str] = {}
        while let_in(compiled, points, limits) and len(points) < 12:
            nearest = [path.devices[-1] for path in broken_by(compiled, limits, points) if path.devices]
            if not set(nearest) - points.keys():
                break
            points |= {name: compiled.network.device[name].phases for name in nearest}
        if not let_in(compiled, points, limits):
            found.append((limits, points))
        if len(found) == count:
            break
    return found


def broken_by(compiled: Compiled, limits: list[tuple[str, str]], points: dict[str, str]) -> list[LivePath]:
    return [line.path for line in prove(compiled, limits, points).broken]


def rows(package: Path, on: str) -> Iterator[Row]:
    """One proof, and all that are out proved again."""
    compiled = compile_network(read(package))
    out = jobs(compiled, 50)
    on_all = jobs(compiled, 50, "ABC")
    opened, all_opened = (
        Opened(compiled, normally_open(compiled.network)).with_also(
            {device: phases for _, points in found for device, phases in points.items()}
        )
        for found in (out, on_all)
    )

    def one() -> object:
        limits, points = out[0]
        return prove(compiled, limits, points, opened)

    def broken() -> object:
        return prove(compiled, out[0][0], {}, opened)

    def all_in_full() -> object:
        return [prove(compiled, limits, points, opened) for limits, points in out]

    def three_phase() -> object:
        return [prove(compiled, limits, points, all_opened) for limits, points in on_all]

    def every_way() -> object:
        return live_paths(compiled, {}, out[0][0])

    def watched() -> object:
        return [let_in(compiled, points, limits) for limits, points in out]

    def given_by() -> object:
        limits, points = out[0]
        return live_paths(compiled, points, limits)

    size = f"{on}: {compiled.sections:,} sections, {len(compiled.network.sources):,} sources"
    for name, ours, target in (
        ("proof of isolation", one, 50.0),
        ("proof with no point open", broken, 50.0),
        (f"proof of {len(out)} clearances again, in full", all_in_full, 1000.0),
        (f"the same of {len(on_all)} on three phases", three_phase, 1000.0),
        ("live paths with no point open", every_way, 1000.0),
        (f"watch over {len(out)} clearances", watched, 1000.0),
    ):
        mine, theirs = race(ours, given_by, rounds=5)
        yield Row(name, size, "ms", mine, "live paths of one", theirs, f"{target:g} ms", mine <= target)
