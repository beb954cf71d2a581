"""Reading the outbox. Nothing here writes."""

from datetime import datetime

from django.db.models import Count, QuerySet

from notifications.models import Heartbeat, Notice
from notifications.states import State


def told(about: str) -> list[Notice]:
    """Every notice about one premises, newest first, whatever became of it."""
    return list(Notice.objects.filter(about=about).order_by("-created_at", "-id"))


def needs_a_person() -> QuerySet[Notice]:
    """The notices that nobody will send unless a person decides: failed or unconfirmed, oldest first."""
    return Notice.objects.filter(state__in=[State.FAILED, State.UNCONFIRMED], decided_by="").order_by(
        "created_at", "id"
    )


def by_hand() -> QuerySet[Notice]:
    """Whom somebody has to go to or telephone, one message after the other, by address."""
    return needs_a_person().filter(channel="hand").order_by("fact", "recipient", "id")


def on_their_way() -> QuerySet[Notice]:
    """The notices that wait or are being sent, the next one first."""
    return Notice.objects.filter(state__in=[State.WAITING, State.SENDING]).order_by("next_try_at", "id")


def counts() -> dict[State, int]:
    """How many notices are in each state; a state without any is there with 0."""
    found = dict(Notice.objects.values_list("state").annotate(Count("id")).order_by())
    return {state: found.get(state, 0) for state in State}


def last_heard() -> dict[str, datetime]:
    """When each background process (`worker`, `beat`) was last heard of; one never heard of is absent."""
    return dict(Heartbeat.objects.values_list("name", "at"))
