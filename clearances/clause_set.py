"""Which clause a refusal names: the federal one, or the utility's own (`settings.CLAUSES`).

The rules know one set; what differs by jurisdiction is laid over it where a refusal is shown, on pages and in
the API alike.
"""

from django.conf import settings

from .rules.clauses import Clause, laid_over
from .rules.refusal import Refusal


def clause_of(refusal: Refusal) -> Clause:
    return laid_over(settings.CLAUSES, refusal.clause)


def shown(refusal: Refusal) -> dict[str, str]:
    """A refusal for components/refusal.html."""
    clause = clause_of(refusal)
    return {
        "text": refusal.text,
        "clause": clause.number,
        "mark": clause.mark,
        "way_past": refusal.way_past,
    }
