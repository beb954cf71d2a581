"""What customers are told: the texts, whom they go to, and whether they still hold when they are about to go.

A notice is promised in the transaction of the act that it tells of (`notifications.outbox`); its text is
frozen there.
"""

import datetime
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone

from circuits.models import Contact, Premises
from notifications import outbox

from .models import AffectedPremises, Clearance, Interruption, Trouble

# What a person without an e-mail address is told as well, by hand: the promise waits in the outbox for
# somebody to say how it was kept.
BEFOREHAND = frozenset({"planned", "moved", "cancelled", "spared"})


@dataclass(frozen=True, slots=True)
class Reach:
    """Of some premises: whom e-mail reaches, and who has to be told by hand."""

    by_mail: dict[str, list[str]]
    by_hand: list[str]


def reach(premises: Iterable[str]) -> Reach:
    wanted = list(premises)
    by_mail: dict[str, list[str]] = {}
    rows = Contact.objects.filter(premises__in=wanted, channel="email").order_by("rank", "address")
    for premises_id, address in rows.values_list("premises_id", "address"):
        by_mail.setdefault(premises_id, []).append(address)
    return Reach(by_mail, [one for one in wanted if one not in by_mail])


@dataclass(frozen=True, slots=True)
class _Word:
    """One thing to tell one premises."""

    premises: str
    fact: str
    supersedes: str
    context: dict[str, object]


def _enqueue(kind: str, words: list[_Word]) -> None:
    by_mail = reach(word.premises for word in words).by_mail
    premises = Premises.ever.in_bulk([word.premises for word in words])
    for word in words:
        home = premises[word.premises]
        ways = [("email", address) for address in by_mail.get(word.premises, ())]
        if not ways and kind in BEFOREHAND:
            ways = [("hand", f"{home.address} {home.unit}".strip())]
        for channel, recipient in ways:
            context = {"premises": home, "utility": settings.UTILITY_NAME, **word.context}
            subject, _, body = render_to_string(f"notices/{kind}.txt", context).partition("\n\n")
            outbox.enqueue(
                fact=word.fact,
                channel=channel,
                recipient=recipient,
                about=word.premises,
                subject=subject.strip(),
                body=body,
                supersedes=word.supersedes,
            )


def tell_planned(
    clearance: Clearance, hours: Mapping[str, datetime.datetime], before: Mapping[str, int]
) -> None:
    """The planned interruption, to each premises with the hour by which its power is back. A second telling
    (`before` says which was the last) takes the place of what has not gone yet.
    """
    fact = f"clearance:{clearance.pk}:planned:"
    briefly = set(clearance.affected.filter(briefly=True).values_list("premises_id", flat=True))
    for kind, again in (("planned", False), ("moved", True)):
        words = [
            _Word(
                premises,
                f"{fact}{clearance.telling}",
                f"{fact}{before[premises]}" if again else "",
                {"clearance": clearance, "back_by": hour, "briefly": premises in briefly},
            )
            for premises, hour in hours.items()
            if (premises in before) is again
        ]
        _enqueue(kind, words)


def tell_cancelled(clearance: Clearance, about: Iterable[str], *, why: str) -> None:
    """The work is called off; whoever is out for it already is told that the power comes back, not that it
    stays on.
    """
    out = set(
        Interruption.objects.filter(clearance=clearance, on_at=None).values_list("premises_id", flat=True)
    )
    before = f"clearance:{clearance.pk}:planned:{clearance.telling}"
    words = [
        _Word(
            premises,
            f"clearance:{clearance.pk}:cancelled",
            before,
            {"clearance": clearance, "why": why, "out": premises in out},
        )
        for premises in about
    ]
    _enqueue("cancelled", words)


def tell_spared(clearance: Clearance, about: Iterable[str]) -> None:
    """The plan changed, and these are not touched by it any more."""
    before = f"clearance:{clearance.pk}:planned:{clearance.telling}"
    fact = f"clearance:{clearance.pk}:spared:{clearance.version}"
    _enqueue("spared", [_Word(premises, fact, before, {"clearance": clearance}) for premises in about])


def tell_off(interruptions: Collection[Interruption], *, unknown: Collection[str] = ()) -> None:
    """The power went off; for the premises in `unknown` only part of it, or the voltage is not known."""
    promised = told_hours(row.clearance_id for row in interruptions)
    for kind, part in (("off", False), ("partly", True)):
        _enqueue(
            kind,
            [
                _Word(
                    row.premises_id,
                    f"interruption:{row.pk}:off",
                    "",
                    {
                        "interruption": row,
                        "clearance": row.clearance,
                        "back_by": promised.get((row.clearance_id, row.premises_id)),
                    },
                )
                for row in interruptions
                if (row.premises_id in unknown) is part
            ],
        )


def told_hours(clearances: Iterable[int | None]) -> dict[tuple[int | None, str], datetime.datetime]:
    """By when power was said to be back, by clearance and premises."""
    rows = AffectedPremises.objects.filter(clearance__in=set(clearances) - {None}).exclude(back_by=None)
    return {
        (clearance, premises): hour
        for clearance, premises, hour in rows.values_list("clearance_id", "premises_id", "back_by")
        if hour
    }


def tell_back(interruptions: Iterable[Interruption]) -> None:
    """Power is back; a word that it is off that has not gone yet is not sent any more."""
    _enqueue(
        "back",
        [
            _Word(
                row.premises_id,
                f"interruption:{row.pk}:back",
                f"interruption:{row.pk}:off",
                {"interruption": row},
            )
            for row in interruptions
        ],
    )


def tell_promise(trouble: Trouble) -> int:
    """When power is back, or when they hear more, to everybody who is still out in a trouble; an earlier word
    of it that has not gone yet is not sent any more. Returns how many premises that is.
    """
    out = list(trouble.interruptions.filter(on_at=None))
    fact, last = f"trouble:{trouble.pk}:promise:{trouble.telling}", trouble.telling - 1
    words = [
        _Word(
            row.premises_id,
            f"{fact}:{row.pk}",
            f"trouble:{trouble.pk}:promise:{last}:{row.pk}" if last else "",
            {"trouble": trouble},
        )
        for row in out
    ]
    _enqueue("promise", words)
    return len(out)


def still_true(fact: str, about: str) -> str:
    """Asked just before a notice about a premises goes: "" if it still holds, else why not."""
    kind, number, what, *telling = fact.split(":")
    if kind == "interruption":
        interruption = Interruption.objects.get(pk=number)
        if what == "off" and interruption.on_at:
            return f"The power came back at {timezone.localtime(interruption.on_at):%H:%M}."
        return ""
    if kind == "trouble":
        newest, (at, row) = Trouble.objects.get(pk=number).telling, telling
        if back := Interruption.objects.get(pk=row).on_at:
            return f"The power came back at {timezone.localtime(back):%H:%M}."
        return "" if int(at) == newest else "The customers were told something newer."
    clearance = Clearance.objects.get(pk=number)
    if what == "planned" and clearance.state == Clearance.State.WITHDRAWN:
        return "The work was cancelled."
    if what == "planned":
        affected = clearance.affected.filter(premises=about).first()
        if affected is None or [str(affected.told)] != telling:
            return "The customers were told something newer."
        if affected.back_by and affected.back_by < timezone.now():
            return "The window is past."
    return ""
