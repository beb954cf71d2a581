"""Customers out now, planned and unplanned apart, critical premises first: the whole list, and its counts."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Case, Count, Q, Value, When
from django.urls import reverse

from ..models import Interruption, Person, Trouble
from ..templatetags.board import clock
from . import words
from .picture import Picture, Row

# Life-support first, then whatever else the utility marked as critical.
FIRST = Case(
    When(premises__care="life_support", then=0), When(premises__care="critical", then=1), default=Value(2)
)


@dataclass(frozen=True, slots=True)
class Open:
    """A trouble that has not ended: how many are out in it, and how many of them on life-support."""

    trouble: Trouble
    out: int
    life_support: int


def open_troubles() -> list[Open]:
    """The oldest first; one query."""
    still = Q(interruptions__on_at=None)
    care = still & Q(interruptions__premises__care="life_support")
    rows = Trouble.objects.filter(ended_at=None).annotate(
        n=Count("interruptions", filter=still), care=Count("interruptions", filter=care)
    )
    return [Open(one, one.n, one.care) for one in rows.order_by("began_at", "pk")]


def trouble_words(one: Trouble, where: str) -> str:
    """A trouble in one sentence, for the desk."""
    back = f"power back by {clock(one.back_by)}" if one.back_by else "no time promised"
    crew = one.crew or "nobody sent"
    return (
        f"{one.device_id} at {where}, since {clock(one.began_at)}: {one.cause or 'cause not known'}, "
        f"{crew}, {back}"
    )


def context(person: Person, back: str) -> dict[str, Any]:
    """What templates/desk/out.html names."""
    page = _Page(person, back)
    return {"groups": [*page.troubles(), *page.work()]}


class _Page(Picture):
    @cached_property
    def rows(self) -> list[Interruption]:
        return list(
            Interruption.objects.filter(on_at=None)
            .select_related("premises", "clearance__job", "trouble")
            .order_by(FIRST, "premises__address", "premises__unit", "pk")
        )

    def troubles(self) -> Iterator[Row]:
        for standing in open_troubles():
            one = standing.trouble
            yield {
                "id": f"trouble-{one.pk}",
                "title": f"Unplanned: trouble {one.pk}, {standing.out} out",
                "words": f"{trouble_words(one, self.where(one.device_id))}.",
                "table": self._table([row for row in self.rows if row.trouble_id == one.pk]),
                "acts": acts(self, one),
            }

    def work(self) -> Iterator[Row]:
        for work in {row.clearance_id: row.clearance for row in self.rows if row.clearance}.values():
            mine = [row for row in self.rows if row.clearance_id == work.pk]
            yield {
                "id": f"clearance-{work.pk}",
                "title": f"Planned: clearance {work.pk}, {len(mine)} out",
                "words": f"{work.job.work}; promised back by {clock(work.promised_end)}.",
                "table": self._table(mine),
                "acts": [self.look_at(work.pk)],
            }

    def _table(self, rows: list[Interruption]) -> Row:
        return {
            "heads": ["address", "name", "since", "care"],
            "rows": [
                {
                    "cells": [
                        f"{row.premises.address} {row.premises.unit}".strip(),
                        row.premises.name,
                        clock(row.off_at),
                        {"life_support": "life-support", "critical": "critical"}.get(row.premises.care, ""),
                    ],
                    "url": f"{reverse('service')}?premises={row.premises_id}",
                    "loud": row.premises.care == "life_support",
                }
                for row in rows
            ],
        }


def acts(picture: Picture, one: Trouble) -> list[Row]:
    """What the desk can say of a trouble, what is missing first."""
    wanted = [
        (bool(one.crew), picture.act("send_crew", trouble=one.pk)),
        (bool(one.said_at), picture.act("promise_power_back", trouble=one.pk)),
        (bool(one.cause), picture.act("say_cause", trouble=one.pk)),
    ]
    return picture.acts(*(act for _, act in sorted(wanted, key=lambda pair: pair[0])))


def needs(picture: Picture, standing_now: list[Open]) -> Iterator[Row]:
    """Each open trouble that still wants a word of the desk, for components/need.html."""
    for standing in standing_now:
        one = standing.trouble
        missing = acts(picture, one)
        overdue = (one.back_by or one.next_word_at or picture.now) < picture.now
        if overdue or not (one.crew and one.said_at):
            text = f"{trouble_words(one, picture.where(one.device_id))}. {standing.out} customers out"
            text += f", {standing.life_support} on life-support." if standing.life_support else "."
            late = "The promise is past. " if overdue and one.said_at else ""
            act = picture.act("promise_power_back", trouble=one.pk) if late else next(iter(missing), None)
            yield {
                "level": "now",
                "word": f"Trouble {one.pk}.",
                "text": f"{late}{text}",
                "act": act,
                "note": words.span(picture.now - one.began_at) if one.began_at < picture.now else "",
            }
