"""A mixed-integer linear program that is made row by row, for HiGHS (https://highs.dev) in scipy."""

from collections.abc import Collection
from dataclasses import dataclass
from math import inf

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

Terms = list[tuple[int, float]]
_GAP = 1e-6  # of the whole price


@dataclass(frozen=True, slots=True)
class Found:
    """What was found: the value of each variable, the price, how much cheaper as a part of it another may be,
    and whether none is."""

    values: list[float]
    price: float
    gap: float
    proven: bool


class Mixed:
    """Variables, each with its price and bounds, and rows of them that lie between two numbers."""

    def __init__(self) -> None:
        self.price: list[float] = []
        self._upper: list[float] = []
        self._lower: list[float] = []
        self._whole: list[int] = []
        self._rows: list[tuple[Terms, float, float]] = []

    def var(self, price: float = 0.0, lower: float = 0.0, upper: float = 1.0, *, whole: bool = False) -> int:
        """A variable's number; a `whole` one is an integer."""
        self.price.append(price)
        self._lower.append(lower)
        self._upper.append(upper)
        if whole:
            self._whole.append(len(self.price) - 1)
        return len(self.price) - 1

    def row(self, terms: Terms, least: float, most: float) -> None:
        """The terms, (variable, factor), together lie between two numbers."""
        self._rows.append((terms, least, most))

    def minimize(self, seconds: float, *, shut: Collection[int] = (), ceiling: float = inf) -> Found | None:
        """The cheapest, or the best that was found in that time; None if none was found. Variables `shut` are
        0; the price is below the ceiling.

        >>> program = Mixed()
        >>> a, b = program.var(price=2, whole=True), program.var(price=3, whole=True)
        >>> program.row([(a, 1), (b, 1)], 1, 2)
        >>> found = program.minimize(5)
        >>> found.values, found.price, found.proven
        ([1.0, 0.0], 2.0, True)
        >>> program.minimize(5, shut=[a]).price
        3.0
        """
        rows = [*self._rows, ([(one, price) for one, price in enumerate(self.price) if price], -inf, ceiling)]
        at = [number for number, (terms, _, _) in enumerate(rows) for _ in terms]
        columns = [column for terms, _, _ in rows for column, _ in terms]
        factors = [factor for terms, _, _ in rows for _, factor in terms]
        matrix = coo_array((factors, (at, columns)), shape=(len(rows), len(self.price)))
        integrality = np.zeros(len(self.price))
        integrality[self._whole] = 1
        upper = np.array(self._upper)
        upper[list(shut)] = 0.0
        found = milp(
            np.array(self.price),
            integrality=integrality,
            bounds=Bounds(np.array(self._lower), upper),
            constraints=LinearConstraint(
                matrix.tocsr(),
                np.array([least for _, least, _ in rows]),
                np.array([most for _, _, most in rows]),
            ),
            options={"time_limit": seconds, "mip_rel_gap": _GAP},
        )
        if found.x is None:
            return None
        return Found(found.x.tolist(), float(found.fun), float(found.mip_gap), proven=found.status == 0)
