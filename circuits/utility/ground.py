"""The invented valley: where things lie, what they are called, and how a number is shared out.

Streets are planned on squared paper, in metres along the river (u) and across it (v) from Ferry Street
station. `place` bends the paper as the river bends, and `earth` lays it where `circuits/demo` lies.
"""

import math
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle, pairwise, product
from pathlib import Path
from random import Random

Point = tuple[float, float]

STATION = 41.548, -94.113  # Ferry Street station of circuits/demo: latitude and longitude
M_PER_DEGREE = 111_320.0  # of latitude, as circuits/demo has it
_SIDES = ("", "Upper ", "Lower ", "Old ", "New ", "Great ", "Little ")
WORDS = {
    kind: words.split()
    for kind, words in tomllib.loads(Path(__file__).with_name("words.toml").read_text("utf-8")).items()
}


@dataclass
class Street:
    """A street and the last house number given in it."""

    name: str
    locality: str
    last: int = 0

    def next_number(self, rng: Random) -> int:
        self.last += rng.choice((1, 1, 1, 2, 3))
        return self.last


class Names:
    """Names of streets, roads and towns in an order made by chance; none twice within a town or its
    neighbours."""

    def __init__(self, rng: Random) -> None:
        self._streets = _names(WORDS["street_ends"], rng)
        self._roads = _names(WORDS["road_ends"], rng)
        self._towns = ["".join(parts) for parts in product(WORDS["town_stems"], WORDS["town_ends"])]
        rng.shuffle(self._towns)

    def street(self, locality: str) -> Street:
        return Street(next(self._streets), locality)

    def road(self, locality: str) -> Street:
        return Street(next(self._roads), locality)

    def town(self, station: int) -> str:
        """Of the stations two by two: the first two are in Orrin Vale."""
        return self._towns[station // 2 - 1] if station > 1 else "Orrin Vale"


def _names(ends: Sequence[str], rng: Random) -> Iterator[str]:
    """Plain ones first, then those with Upper, Lower and so on."""
    for side in cycle(_SIDES):
        names = [f"{side}{first} {end}" for first, end in product(WORDS["streets"], ends)]
        rng.shuffle(names)
        yield from names


def place(u: float, v: float) -> Point:
    """Squared paper -> metres east and north of the first station; hardly bent where circuits/demo lies.

    >>> place(0, 0)
    (0.0, 0.0)
    """
    return u + 40 * math.sin(v / 800), v + 140 * (math.cos(400 / 900) - math.cos((u - 400) / 900))


def earth(at: Point) -> tuple[str, str]:
    """Metres east and north -> latitude and longitude as cells.

    >>> earth((0, 0))
    ('41.548000', '-94.113000')
    """
    latitude, longitude = STATION
    return f"{latitude + at[1] / M_PER_DEGREE:.6f}", f"{longitude + at[0] / _m_per_degree_east():.6f}"


def metres(latitude: str, longitude: str) -> Point:
    """The way back, from the cells of `circuits/demo`."""
    east = (float(longitude) - STATION[1]) * _m_per_degree_east()
    return east, (float(latitude) - STATION[0]) * M_PER_DEGREE


def _m_per_degree_east() -> float:
    return M_PER_DEGREE * math.cos(math.radians(STATION[0]))


def share(total: int, weights: Sequence[float]) -> list[int]:
    """Whole parts of `total` by weight that add up to it.

    >>> share(10, [1, 1, 1])
    [3, 4, 3]
    """
    so_far, cuts = 0.0, [0]
    for weight in weights:
        so_far += weight
        cuts.append(round(total * so_far / sum(weights)))
    return [after - before for before, after in pairwise(cuts)]


def groups(total: int, least: int, most: int, rng: Random) -> Iterator[int]:
    """`total` in groups of `least` to `most`, as far as it goes.

    >>> list(groups(5, 6, 10, Random(1)))
    [5]
    """
    while total > 0:
        left = min(least, total // 2)
        size = total if total <= most else rng.randint(left, min(most, total - left))
        yield size
        total -= size
