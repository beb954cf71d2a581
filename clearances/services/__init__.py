"""The verbs of the board, by subject. Importing this package registers them all in `VERBS`."""

from . import asking, changes, customers, giving, on_the_line, people, planning, reporting, switching
from .verb import VERBS

__all__ = [
    "VERBS",
    "asking",
    "changes",
    "customers",
    "giving",
    "on_the_line",
    "people",
    "planning",
    "reporting",
    "switching",
]
