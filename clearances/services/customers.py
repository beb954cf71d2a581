"""Telling the customers, and the life-support premises that a person has to answer for."""

from django.utils import timezone

from .. import notices, promises
from ..models import Clearance, Role
from ..rules.clauses import IN_ORDER, LIFE_SUPPORT, TELL_COUNT
from ..rules.refusal import Refusal
from .verb import Outcome, Refused, Who, lock_clearance, lock_with_told, touch, verb, write


@verb(Role.OPERATOR)
def tell_customers(who: Who, *, clearance: int, count: int) -> Outcome:
    """Promise the planned notice to every affected premises that has not been told; how many they are is
    typed back by the person who tells them.
    """
    row = lock_with_told(clearance)
    untold = row.affected.filter(told=0)
    out = list(untold.values_list("premises_id", flat=True))
    if refusals := _may_tell(row, len(out), count):
        return Refused(refusals)
    touch(row, expected=None, telling=max(row.telling, 1))
    promises.tell(row, out)
    others = promises.renew()
    by_hand = notices.reach(out).by_hand
    words = (
        f"{who.actor} tells {len(out) - len(by_hand)} of {len(out)} customers by e-mail; "
        f"{len(by_hand)} are to be told by hand.{others}"
    )
    return write(who, "tell_customers", words, clearance=row, by_hand=by_hand)


def _may_tell(clearance: Clearance, untold: int, count: int) -> tuple[Refusal, ...]:
    if clearance.state in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN):
        text = f"Clearance {clearance.pk} is {clearance.state}: there is nothing to tell of beforehand."
        return (
            Refusal("clearance_over", str(clearance), text, IN_ORDER, "Take a note for the desk instead."),
        )
    if not untold:
        text = f"Nobody is counted for clearance {clearance.pk} who has not been told."
        way = "Have the order checked, so that its customers are counted; a moved end tells them by itself."
        return (Refusal("nobody_counted", str(clearance), text, IN_ORDER, way),)
    if count != untold:
        text = f"Clearance {clearance.pk} has {untold} customers to be told, not {count}."
        return (
            Refusal("count_differs", str(clearance), text, TELL_COUNT, "Look at the list, type its number."),
        )
    return ()


@verb(Role.OPERATOR, Role.SERVICE)
def record_answer(who: Who, *, clearance: int, premises: str, answered_by: str, plan: str) -> Outcome:
    """A person at a life-support premises answered: who, and what they will do. A machine's `delivered` is
    not an answer.
    """
    row = lock_clearance(clearance)
    affected = row.affected.select_related("premises").filter(premises=premises)
    if not affected.update(
        answered_by=answered_by, plan=plan, answered_at=timezone.now(), taken_by=who.actor
    ):
        text = f"{premises} is not among the customers of clearance {row.pk}."
        return Refused((Refusal("not_affected", premises, text, LIFE_SUPPORT, "Choose one from the list."),))
    touch(row, expected=None)
    home = affected.get().premises.address
    words = f"Life-support at {home}: {answered_by} answered {who.actor}. Plan: {plan}."
    return write(who, "record_answer", words, clearance=row, premises=premises)
