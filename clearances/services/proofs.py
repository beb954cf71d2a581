"""The holder's answer to a broken proof."""

from django.utils import timezone

from ..models import BrokenProof, Role
from ..rules.clauses import HOLDER_RELEASES, PICTURE
from ..rules.refusal import Refusal
from .verb import Outcome, Refused, Who, lock_clearance, verb, write


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def answer_broken_proof(who: Who, *, broken_proof: int, people_off: bool) -> Outcome:
    """The holder says whether everybody is off the line; that they are not is stored, and asked on."""
    clearance = lock_clearance(BrokenProof.objects.values_list("clearance", flat=True).get(pk=broken_proof))
    if who.actor.pk != clearance.holder_id:
        text = f"Only {clearance.holder} answers for clearance {clearance.pk}."
        way = f"Reach {clearance.holder}; the desk can enter the answer in that name, as it is said."
        return Refused((Refusal("not_the_holder", str(clearance), text, HOLDER_RELEASES, way),))
    said = BrokenProof.objects.filter(pk=broken_proof).exclude(people_off=True)
    if not said.update(people_off=people_off, answered_at=timezone.now(), said_by=who.said_by):
        text = f"That everybody under clearance {clearance.pk} is off was said already."
        way = "A further break is asked about by itself."
        return Refused((Refusal("answered_already", str(clearance), text, PICTURE, way),))
    answer = "everybody is off the line" if people_off else "people are STILL ON the line"
    words = f"{who.said_by} to the broken proof of clearance {clearance.pk}: {answer}."
    return write(
        who,
        "answer_broken_proof",
        words,
        clearance=clearance,
        broken_proof=broken_proof,
        people_off=people_off,
    )
