"""Calling the roll before a close, and the holders' answers."""

from django.utils import timezone

from .. import rollcall
from ..models import Role, RollCall, Step
from ..rules.clauses import HOLDER_RELEASES, ROLL_CALL
from ..rules.refusal import Refusal
from ..rules.words import letters
from .switching import find_step
from .verb import Outcome, Refused, Who, lock_clearance, verb, write


@verb(Role.OPERATOR)
def call_roll(who: Who, *, step: int) -> Outcome:
    """Ask every holder whom one wrong report would put under voltage by a close; it shows on their sheets."""
    clearance, row = find_step(step)
    if row.operation != Step.Operation.CLOSE or row.state != Step.State.WAITING:
        text = f"Step {row.place} of order {row.order_id} is no close that waits to be given."
        return Refused((_no(row.device_id, text, "Call the roll before the next step that closes."),))
    concerned = rollcall.silent(row)
    if not concerned:
        text = f"Nobody has to be asked about closing {row.device_id} {letters(row.phases)}."
        return Refused((_no(row.device_id, text, "Give the step."),))
    now = timezone.now()
    RollCall.objects.bulk_create(
        RollCall(
            step=row,
            clearance_id=hit.clearance,
            why=f"{row.device_id} {letters(row.phases)} is to be closed: {hit.what}.",
            asked_at=now,
            asked_by=who.actor,
        )
        for hit in concerned
    )
    names = "; ".join(f"{hit.holder}, clearance {hit.clearance}" for hit in concerned)
    words = f"{who.actor} calls the roll before {row.device_id} {letters(row.phases)} is closed: {names}."
    return write(who, "call_roll", words, clearance=clearance, step=row.pk)


def _no(about: str, text: str, way: str) -> Refusal:
    return Refusal("no_roll_to_call", about, text, ROLL_CALL, way)


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def answer_roll_call(who: Who, *, call: int, agrees: bool) -> Outcome:
    """The holder says whether everybody of theirs is clear of what is to be closed; a no is stored."""
    number = RollCall.objects.values_list("clearance", flat=True).get(pk=call)
    clearance = lock_clearance(number)
    row = RollCall.objects.select_related("step").get(pk=call)
    if who.actor.pk != clearance.holder_id:
        text = f"Only {clearance.holder} answers for clearance {clearance.pk}."
        way = f"Reach {clearance.holder}; the desk can enter the answer in that name, as it is said."
        return Refused((Refusal("not_the_holder", str(clearance), text, HOLDER_RELEASES, way),))
    said = "yes, all clear of it" if agrees else "NO"
    about = f"{row.step.device_id} {letters(row.step.phases)}"
    answered = RollCall.objects.filter(pk=call, answered_at=None).update(
        agrees=agrees, answered_at=timezone.now(), said_by=who.said_by
    )
    if not answered:
        text = f"This was answered already by {row.said_by}; the last roll-call is the one that counts."
        return Refused((_no(row.step.device_id, text, "Have the desk call the roll again."),))
    words = f"{who.said_by} to closing {about} by order {row.step.order_id}: {said}."
    return write(who, "answer_roll_call", words, clearance=clearance, call=call, agrees=agrees)
