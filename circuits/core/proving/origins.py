"""Where the sources are, as arrays, and several of them told together."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from circuits.core.joining import Ints
from circuits.core.values import letters

if TYPE_CHECKING:
    from circuits.core.network import Compiled

# Sources, each with the opens in a row that stand before it, and the phases of the limits.
Further = tuple[tuple[str, int, str], ...]

# A phase, and what comes in on it: the opens before each source, and its place among the names.
Others = tuple[str, Ints, Ints]


class Origins:
    """Of each phase of each source: which `source` it is (its place in the network), its `section` and its
    node-phase `start`, in the order of `Compiled.sources_at`. `place` is the place of each source among the
    `names`, which are in order."""

    def __init__(self, compiled: "Compiled") -> None:
        self.sources = compiled.network.sources
        self.number = {source.id: number for number, source in enumerate(self.sources)}
        found = [
            (self.number[source.id], section, start)
            for section, here in compiled.sources_at.items()
            for source, start in here
        ]
        self.source, self.section, self.start = np.array(found, dtype=np.int64).reshape(-1, 3).T
        self.names = sorted(self.number)
        self.place = np.argsort([self.number[name] for name in self.names])
        self.is_station = np.array([source.is_station for source in self.sources], dtype=np.bool_)

    def of_each(self, values: Ints, none: int) -> Ints:
        """For each source the least of what its phases have, `none` where that is as good as nothing."""
        least: Ints = np.full(len(self.sources), none)
        np.minimum.at(least, self.source, values)
        return least

    def further(self, others: Sequence[Others]) -> Further:
        """What comes in on some phases, with the fewest opens first, then by name."""
        count = len(self.names)
        keys = [opens * count + place for _, opens, place in others]
        found, which = np.unique(np.concatenate(keys), return_inverse=True)
        on = np.zeros(len(found), dtype=np.int64)
        np.bitwise_or.at(on, which, np.repeat(1 << np.arange(len(keys)), [len(key) for key in keys]))
        opens, place = np.divmod(found, count)
        phases = {
            bits: letters({phase for bit, (phase, _, _) in enumerate(others) if bits >> bit & 1})
            for bits in np.unique(on).tolist()
        }
        names = map(self.names.__getitem__, place.tolist())
        return tuple(zip(names, opens.tolist(), map(phases.__getitem__, on.tolist()), strict=True))
