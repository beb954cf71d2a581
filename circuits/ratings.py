"""What lines, devices and regulators may carry, and the loads on record, of the network in use."""

import functools
import math
import re
from collections.abc import Iterator
from typing import Any

from circuits import snapshot
from circuits.core.planning.loading import Ratings, Thing
from circuits.tables import current_rows

_LINK = re.compile(r"\s*(\d+(\.\d+)?)")


def ratings() -> Ratings:
    """Of the network in use. Cost: one query, and after an import one reading of five tables a process."""
    return _of(snapshot.revision())


@functools.lru_cache(maxsize=1)
def _of(revision: int) -> Ratings:
    amps = dict(_amps())
    peaks = {
        ("load", row["load_id"]): math.hypot(float(row["kw"]), float(row["kvar"]))
        for row in current_rows("loads")
    }
    return Ratings(amps, peaks)


def _amps() -> Iterator[tuple[Thing, float]]:
    """The least of a thing's own rating, its link's number and its circuit's limit.

    A link carries more than its number for long (by half for tin, from memory); its number is taken.
    """
    circuits = {row["circuit_id"]: row["normal_limit_a"] for row in current_rows("circuits")}
    conductors = {row["code"]: row["ampacity_a"] for row in current_rows("conductors")}

    def least(*amps: Any) -> Iterator[float]:
        known = [float(one) for one in amps if one is not None]
        if known:
            yield min(known)

    for row in current_rows("devices"):
        link = _LINK.match(row["link"])
        limit = circuits.get(row["circuit_id"])
        for one in least(row["rating_a"], link and link[1], limit):
            yield ("device", row["device_id"]), one
    for row in current_rows("lines"):
        for one in least(conductors[row["conductor"]], circuits.get(row["circuit_id"])):
            yield ("line", row["line_id"]), one
    for row in current_rows("regulators"):
        for one in least(row["rating_a"]):
            yield ("regulator", row["regulator_id"]), one
