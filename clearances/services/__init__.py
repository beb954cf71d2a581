"""The verbs of the board, by subject. Importing this package registers them all in `VERBS`."""

from . import (
    asking,
    customers,
    do_not_operates,
    field_clearances,
    giving,
    holds,
    on_the_line,
    people,
    planning,
    reporting,
    switching,
)
from .verb import VERBS

__all__ = [
    "VERBS",
    "asking",
    "customers",
    "do_not_operates",
    "field_clearances",
    "giving",
    "holds",
    "on_the_line",
    "people",
    "planning",
    "reporting",
    "switching",
]
