"""The verbs of the board, by subject. Importing this package registers them all in `VERBS`."""

from . import (
    asking,
    calling_off,
    calls,
    customers,
    do_not_operates,
    field_clearances,
    giving,
    holds,
    on_the_line,
    people,
    planning,
    reporting,
    rollcall,
    seen,
    switching,
    troubles,
    way_back,
)
from .verb import VERBS

__all__ = [
    "VERBS",
    "asking",
    "calling_off",
    "calls",
    "customers",
    "do_not_operates",
    "field_clearances",
    "giving",
    "holds",
    "on_the_line",
    "people",
    "planning",
    "reporting",
    "rollcall",
    "seen",
    "switching",
    "troubles",
    "way_back",
]
