"""Telling the customers, and the life-support premises that a person has to answer for."""

from django.utils import timezone

from .. import notices
from ..models import Role
from ..rules.clauses import IN_ORDER, LIFE_SUPPORT, TELL_COUNT
from ..rules.refusal import Refusal
from .verb import Outcome, Refused, Who, lock_clearance, touch, verb, write


@verb(Role.OPERATOR)
def tell_customers(who: Who, *, clearance: int, count: int) -> Outcome:
    """Promise the planned notices to every affected premises; how many there are is typed back by the person
    who tells them.
    """
    row = lock_clearance(clearance)
    out = list(row.affected.values_list("premises_id", flat=True))
    if not out:
        text = f"Nobody is counted for clearance {row.pk} yet."
        return Refused(
            (Refusal("nobody_counted", str(row), text, IN_ORDER, "Have the order checked first."),)
        )
    if count != len(out):
        text = f"Clearance {row.pk} takes out {len(out)} customers, not {count}."
        return Refused(
            (Refusal("count_differs", str(row), text, TELL_COUNT, "Look at the list, then type its number."),)
        )
    touch(row, expected=None, telling=row.telling + 1)
    notices.tell_planned(row, out)
    by_hand = notices.reach(out).by_hand
    words = (
        f"{who.actor} tells {len(out) - len(by_hand)} of {len(out)} customers by e-mail; "
        f"{len(by_hand)} are to be told by hand."
    )
    return write(who, "tell_customers", words, clearance=row, by_hand=by_hand)


@verb(Role.OPERATOR, Role.SERVICE)
def record_answer(who: Who, *, clearance: int, premises: str, answered_by: str, plan: str) -> Outcome:
    """A person at a life-support premises answered: who, and what they will do. A machine's `delivered` is
    not an answer.
    """
    row = lock_clearance(clearance)
    changed = row.affected.filter(premises=premises).update(
        answered_by=answered_by, plan=plan, answered_at=timezone.now(), taken_by=who.actor
    )
    if not changed:
        text = f"{premises} is not among the customers of clearance {row.pk}."
        return Refused((Refusal("not_affected", premises, text, LIFE_SUPPORT, "Choose one from the list."),))
    touch(row, expected=None)
    words = f"Life-support {premises}: {answered_by} answered {who.actor}. Plan: {plan}."
    return write(who, "record_answer", words, clearance=row, premises=premises)
