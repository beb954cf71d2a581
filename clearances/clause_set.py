"""Which clause a refusal names: the federal one, or the utility's own (`settings.CLAUSES`).

The rules know one set; what differs by jurisdiction is laid over it where refusals are shown, on pages and in
the API alike.
"""

from collections.abc import Iterable
from dataclasses import replace

from django.conf import settings

from .rules.clauses import laid_over
from .rules.refusal import Refusal


def named(refusals: Iterable[Refusal]) -> tuple[Refusal, ...]:
    """The refusals with the clauses of the set in use."""
    return tuple(replace(one, clause=laid_over(settings.CLAUSES, one.clause)) for one in refusals)
