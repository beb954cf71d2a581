"""What every page says about itself: whose board, as of when, who is looking, whether it still hears."""

import datetime

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from notifications import selectors

from .models import Person
from .rooms import PAGES, Room, roles_of, room_of

LATE = datetime.timedelta(seconds=90)

# name of the address, what the link says, the page of `rooms.PAGES` that decides who gets it.
NAV = (
    ("board", "Desk", "board"),
    ("notices", "Notices", "notices"),
    ("map", "Network", "network"),
    ("service", "Customers", "service"),
    ("field", "Your work", "field"),
    ("packages", "Network packages", "import"),
    ("changes", "As left", "changes"),
    ("people", "People", "people"),
)
# What runs behind the pages, by its heartbeat.
PARTS = (("worker", "worker"), ("beat", "timer"))


def board(request: HttpRequest) -> dict[str, object]:
    """Context processor of every page; see templates/base.html."""
    common: dict[str, object] = {
        "utility": settings.UTILITY_NAME,
        "demo": settings.DEMO is not None,
        "as_of": timezone.now(),
        "sign_in_url": settings.LOGIN_URL,
        "room": room_at(request.path),
    }
    person = getattr(request, "user", None)
    if not isinstance(person, Person):
        return common
    room = room_at(request.path) or room_of(person)
    # How the machinery behind the pages does is for those who can do something about it.
    parts = heard() if room == "desk" and person.has_role(*PAGES["board"]) else []
    return common | {
        "room": room,
        "who": {"name": str(person), "role": roles_of(person), "since": person.last_login},
        "nav": nav(person, request.path),
        "heard": [{"words": words, "late": late} for words, late in parts],
    }


def room_at(path: str) -> Room:
    """The room that an address belongs to, "" for one that every room has."""
    first = path.strip("/").partition("/")[0]
    rooms: dict[str, Room] = {"desk": "desk", "field": "field", "service": "service"}
    return rooms.get(first, "")


def nav(person: Person, path: str) -> list[dict[str, object]]:
    links = [
        {"url": reverse(name), "label": label} for name, label, page in NAV if person.has_role(*PAGES[page])
    ]
    if settings.DEMO is not None and person.has_role(*PAGES["service"]):
        links.append({"url": reverse("mail"), "label": "Their mail (demo)"})
    return [link | {"here": link["url"] == path} for link in links]


def heard() -> list[tuple[str, bool]]:
    """Of every part behind the pages, when it was last heard, and whether that is too long ago."""
    last = selectors.last_heard()
    now = timezone.now()
    out = []
    for name, words in PARTS:
        at = last.get(name)
        if at is None:
            out.append((f"{words} never heard", True))
            continue
        ago = now - at
        seconds = max(0, int(ago.total_seconds()))
        since = f"{seconds} s" if seconds < 120 else f"{seconds // 60} min"
        out.append((f"{words} not heard for {since}" if ago > LATE else f"{words} {since}", ago > LATE))
    return out
