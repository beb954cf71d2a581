"""One caller, one screen: is the power out there, why, and until when. No crew, no telephone of one, no tag,
and nothing that could be read out as a word about the line itself."""

import datetime
import re
from collections import Counter
from typing import Any
from urllib.parse import urlencode

from django.contrib.postgres.search import TrigramWordSimilarity
from django.db.models import Q, QuerySet
from django.db.models.functions import Greatest, Lower
from django.http import Http404
from django.urls import reverse

from circuits.core.trace import Answer, PremisesState
from circuits.models import Premises
from notifications import selectors
from notifications.models import Notice
from notifications.states import State

from ..facts import OUT, UNDER_WAY
from ..models import AffectedPremises, Clearance, Interruption, LogEntry, Person
from ..templatetags.board import clock
from . import unplanned, words
from .picture import Picture, Row

SHOWN = 12
LONGEST_QUERY = 100  # characters
TELEPHONE = re.compile(r"\+?\d(?:[-./() ]*\d){6,14}")
SHORT = 4  # characters
ALIKE = 0.45  # how alike a word typed and a word on record must be, 0 to 1

ASK = [
    "Is it the whole house?",
    "Are some lights bright and some dim? Turn the main switch off, and leave it off until we have been.",
    "Is a wire lying on the ground? Stay away from it, and keep others away.",
    "A generator? It must not feed the house wiring without a transfer switch.",
]
REMARKS = (
    ("Medical equipment", "They have medical equipment"),
    ("Note", "Take a note for the desk"),
)
CALLS = (
    ("out", "Power is out there"),
    ("half", "Lights half bright, half dim"),
    ("wire", "Wire on the ground"),
)
SENT = {
    State.WAITING: "waits to be sent",
    State.SENDING: "being sent",
    State.SENT: "sent",
    State.FAILED: "could not be sent",
    State.UNCONFIRMED: "nobody knows whether it arrived",
}


def context(person: Person, query: str, premises: str) -> dict[str, Any]:
    """What templates/service/find.html names."""
    found: list[Premises] = []
    if premises:
        one = Premises.objects.filter(pk=premises).first()
        if one is None:
            raise Http404(f"There is no premises {premises}.")
        found = [one]
    elif query:
        found = list(search(query)[:SHOWN])
    only = found[0].pk if len(found) == 1 else ""
    back = f"{reverse('service')}?{urlencode({'q': query, 'premises': only})}"
    picture = Picture(person, back)
    base: dict[str, Any] = {"query": query or (found[0].address if found else "")}
    if len(found) == 1:
        return base | answer(picture, found[0])
    unknown = picture.act("remark", "Take a note for the desk", about=f"Caller, «{query}»")
    calls = (picture.act("take_call", label, place=query, kind=kind) for kind, label in CALLS)
    return base | {
        "matches": [_match(picture, one, query) for one in found],
        "acts": picture.acts(*calls, unknown),
    }


def search(query: str) -> QuerySet[Premises]:
    """Premises that fit every word typed, whatever the order: a part of the address, name, meter or
    telephone. Where none does, those that look like it, the most alike first."""
    fitting = Q()
    for word in query.split():
        # A short number is a house's: as a part of telephones and meters it would fit nearly everybody.
        number, short = word.isdecimal(), len(word) < SHORT
        fits = Q(address__iregex=rf"\m{word}") if number else Q(address__icontains=word)
        fits |= Q(unit__iexact=word) | Q(locality__icontains=word) | Q(name__icontains=word)
        if not (number and short):
            fits |= Q(meter__icontains=word)
        if not short:
            fits |= Q(contacts__address__icontains=word)
        fitting &= fits
    if TELEPHONE.fullmatch(query):
        fitting |= Q(contacts__address__regex=r"\D*".join(re.sub(r"\D", "", query)))
    exact = Premises.objects.filter(fitting).distinct().order_by("address", "unit", "pk")
    if exact[:1]:
        return exact
    alike = Greatest(
        TrigramWordSimilarity(query.lower(), Lower("address")),
        TrigramWordSimilarity(query.lower(), Lower("name")),
    )
    return Premises.objects.annotate(alike=alike).filter(alike__gte=ALIKE).order_by("-alike", "address")


def _match(picture: Picture, one: Premises, query: str) -> Row:
    state = picture.trace.supply_of(one.pk)
    return {
        "url": f"{reverse('service')}?{urlencode({'q': query, 'premises': one.pk})}",
        "address": address_of(one),
        "words": ", ".join(part for part in (one.name, supply_of(state)) if part),
    }


def address_of(one: Premises) -> str:
    return ", ".join(part for part in (one.address, f"unit {one.unit}" if one.unit else "") if part)


def supply_of(state: PremisesState | None) -> str:
    if state is None:
        return "not on the network in use"
    if state.out:
        return "power is out"
    if state.answer is Answer.BACKFED or state.phases_out:
        return "power on part of its phases, or voltage not known"
    return "power is on"


def answer(picture: Picture, one: Premises) -> dict[str, Any]:
    """The one screen about one premises."""
    state = picture.trace.supply_of(one.pk)
    out = (
        Interruption.objects.filter(premises=one.pk, on_at=None)
        .select_related("clearance__job", "trouble")
        .first()
    )
    planned = (
        AffectedPremises.objects.filter(
            premises=one.pk,
            clearance__state__in=[Clearance.State.ASKED, *OUT],
            clearance__order__state__in=UNDER_WAY,
        )
        .select_related("clearance__job")
        .order_by("clearance__window_start")
    )
    # The one that has to do with the caller now: the work that put it out, else the next that will.
    counted = list(planned)
    trouble = out.trouble if out else None
    work = (out.clearance if out else None) or next((row.clearance for row in counted if not trouble), None)
    affected = next((row for row in counted if work and row.clearance_id == work.pk), None)
    standing = _standing(state, out, work)
    back_by = _back_by(one, work)
    headline, back = _headline(standing, out, work, back_by, briefly=bool(affected and affected.briefly))
    told_at = trouble.said_at if trouble else _told_at(work)
    return {
        "answer": {
            "where": " · ".join(
                part for part in (address_of(one), f"meter {one.meter}" if one.meter else "") if part
            ),
            "behind": _behind(picture, one),
            "standing": standing,
            "headline": headline,
            "back": back,
            "more": unplanned.more(trouble) if trouble else _more(work, standing),
            "say": unplanned.say(trouble) if trouble else _say(standing, work, back_by) if told_at else "",
            "approved_at": told_at,
            "next_word_at": trouble.next_word_at if trouble else None,
            "medical": _medical(one, affected),
            "medical_open": affected is not None
            and affected.care == "life_support"
            and affected.answered_at is None,
            "facts": [("Told", _told(selectors.told(one.pk))), ("Neighbours", _neighbours(picture, one))],
        },
        "acts": _acts(picture, one, affected),
        "ask": ASK,
    }


def _standing(state: PremisesState | None, out: Interruption | None, work: Clearance | None) -> str:
    """ "out", "unknown" (part of its phases, or voltage not known), "planned" or "on"."""
    if state is not None and state.out:
        return "out"
    if out is not None or (state is not None and (state.answer is Answer.BACKFED or state.phases_out)):
        return "unknown"
    return "planned" if work else "on"


def _back_by(one: Premises, work: Clearance | None) -> datetime.datetime | None:
    """The hour that this premises was told, which another clearance may have made later than the work's own
    end; that end before anybody was told.
    """
    if work is None:
        return None
    told = AffectedPremises.objects.filter(premises=one.pk, clearance=work).exclude(back_by=None).first()
    return told.back_by if told else work.promised_end


def _headline(
    standing: str,
    out: Interruption | None,
    work: Clearance | None,
    back_by: datetime.datetime | None,
    *,
    briefly: bool,
) -> tuple[str, str]:
    since = f" since {clock(out.off_at)}" if out else ""
    because = (
        "planned work" if out and out.clearance else "unplanned: a known trouble" if out else "unplanned"
    )
    by = back_by if out and out.clearance else out.trouble.back_by if out and out.trouble else None
    back = f"Power back by {clock(by)}." if by else "No time is known yet."
    if standing == "out":
        return f"Out{since}, {because}.", back
    if standing == "unknown":
        return f"On part of its phases, or voltage not known{since}, {because}.", back
    if standing == "planned" and work and back_by:
        off = "Planned off for some minutes, twice within" if briefly else "Planned off"
        return "Power is on.", f"{off} {words.window(work.window_start, back_by)}."
    return "Power is on, by what is reported.", "No work is planned here."


def _more(work: Clearance | None, standing: str) -> str:
    if work is None:
        return unplanned.NOT_OURS if standing == "on" else ""
    moved = " The time was changed since the first notice." if work.telling > 1 else ""
    reason = work.job.reason_for_customers
    return f"{reason[:1].upper()}{reason[1:]}.{moved} It may come on and go off again in that time."


def _say(standing: str, work: Clearance | None, back_by: datetime.datetime | None) -> str:
    """What to read out, from what the desk has told the customers."""
    if work is None or back_by is None:
        return ""
    reason = work.job.reason_for_customers
    if standing == "planned":
        when = words.window(work.window_start, back_by)
        return (
            f"Your power is to be off {when} for planned work: {reason}. "
            "It may come on and go off again in that time."
        )
    return (
        f"Your power is off for planned work: {reason}. We expect it back by {clock(back_by)}. "
        "It may come on and go off again before then."
    )


def _told_at(work: Clearance | None) -> Any:
    """When the desk last told the customers of this work: that is its word on the sentence."""
    if work is None or not work.telling:
        return None
    entries = LogEntry.objects.filter(clearance=work, verb__in=["tell_customers", "move_promised_end"])
    return entries.order_by("-number").values_list("entered_at", flat=True).first()


def _medical(one: Premises, affected: AffectedPremises | None) -> str:
    if one.care != "life_support":
        return "none on record; critical premises" if one.care == "critical" else "none on record"
    if affected is None:
        return "Life-support on record. No work is planned here."
    if affected.answered_at is None:
        return "Life-support on record. No person there has answered yet: ask now, and enter it."
    answered = f"Answered {clock(affected.answered_at)} by {affected.answered_by}"
    return f"Life-support on record. {answered}: {affected.plan}."


def _told(notices: list[Notice]) -> str:
    said = [f"«{notice.subject}», {_how(notice)}" for notice in notices if notice.state in SENT]
    return "; ".join(said[:3]) or "no notice was due here"


def _how(notice: Notice) -> str:
    if notice.channel == "hand":
        return "told by hand" if notice.decided_by else "to be told by hand"
    at = f" {clock(notice.sent_at)}" if notice.sent_at else ""
    return f"e-mail{at} {SENT[State(notice.state)]}"


def _behind(picture: Picture, one: Premises) -> str:
    others = sum(
        other.transformer == one.transformer_id and other.id != one.pk
        for other in picture.compiled.network.premises
    )
    return (
        f"behind {one.transformer_id} with {others} others"
        if others
        else f"behind {one.transformer_id}, alone"
    )


def _neighbours(picture: Picture, one: Premises) -> str:
    """The others behind the same transformer, by how they are supplied."""
    alike = Premises.objects.filter(transformer=one.transformer_id).exclude(pk=one.pk).order_by()
    counts = Counter(
        supply_of(picture.trace.supply_of(other)) for other in alike.values_list("pk", flat=True)
    )
    return "; ".join(f"{n}: {said}" for said, n in counts.items()) or "nobody else on the same transformer"


def _acts(picture: Picture, one: Premises, affected: AffectedPremises | None) -> list[Row]:
    answered = (
        picture.act("record_answer", clearance=affected.clearance_id, premises=one.pk)
        if affected and affected.care == "life_support" and affected.answered_at is None
        else None
    )
    where = address_of(one)
    return picture.acts(
        *(picture.act("take_call", label, premises=one.pk, kind=kind) for kind, label in CALLS),
        answered,
        *(picture.act("remark", label, about=f"{where}: {about}") for about, label in REMARKS),
    )
