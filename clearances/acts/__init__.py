"""The acts by subject. Importing this package registers them all in `base.ACTS`."""

from . import asking, beside, customers, giving, holds, on_the_line, people, planning, switching
from .base import ACTS, Act, allowed, link

__all__ = [
    "ACTS",
    "Act",
    "allowed",
    "asking",
    "beside",
    "customers",
    "giving",
    "holds",
    "link",
    "on_the_line",
    "people",
    "planning",
    "switching",
]
