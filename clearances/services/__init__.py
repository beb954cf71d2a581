"""The verbs of the board, by subject. Importing this package registers them all in `VERBS`."""

from . import (
    asking,
    calls,
    customers,
    giving,
    on_the_line,
    people,
    planning,
    reporting,
    seen,
    switching,
    troubles,
)
from .verb import VERBS

__all__ = [
    "VERBS",
    "asking",
    "calls",
    "customers",
    "giving",
    "on_the_line",
    "people",
    "planning",
    "reporting",
    "seen",
    "switching",
    "troubles",
]
