"""The acts by subject. Importing this package registers them all in `base.ACTS`."""

from . import asking, changes, customers, giving, on_the_line, people, planning, switching
from .base import ACTS, Act, allowed, link

__all__ = [
    "ACTS",
    "Act",
    "allowed",
    "asking",
    "changes",
    "customers",
    "giving",
    "link",
    "on_the_line",
    "people",
    "planning",
    "switching",
]
