"""The acts by subject. Importing this package registers them all in `base.ACTS`."""

from . import (
    asking,
    beside,
    calls,
    changes,
    customers,
    exchange,
    giving,
    holds,
    on_the_line,
    people,
    planning,
    proofs,
    seen,
    switching,
    troubles,
)
from .base import ACTS, Act, allowed, link

__all__ = [
    "ACTS",
    "Act",
    "allowed",
    "asking",
    "beside",
    "calls",
    "changes",
    "customers",
    "exchange",
    "giving",
    "holds",
    "link",
    "on_the_line",
    "people",
    "planning",
    "proofs",
    "seen",
    "switching",
    "troubles",
]
