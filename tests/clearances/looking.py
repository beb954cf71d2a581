"""Looking at pages as somebody: the answer's text without markup, and the context that it was made from."""

import re
from dataclasses import dataclass
from html import unescape
from typing import Any

from django.template import Context
from django.test import Client

from clearances.models import Person


def text_of(html: str) -> str:
    """What a person reads: no markup, whitespace as one blank."""
    body = re.sub(r"<(script|style|head)\b.*?</\1>", " ", html, flags=re.DOTALL)
    text = unescape(
        re.sub(r"<[^>]+>", "", re.sub(r"<(/?(p|li|h\d|td|th|div|small|dd|dt|br))\b", r" <\1", body))
    )
    return re.sub(r"\s+", " ", text)


@dataclass(frozen=True)
class Seen:
    status: int
    text: str
    html: str
    context: dict[str, Any]

    def urls(self) -> list[str]:
        """Where the page's links lead."""
        return [unescape(url) for url in re.findall(r'href="([^"]+)"', self.html)]


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def look(person: Person, path: str) -> Seen:
    """GET `path` as `person`."""
    answer = signed_in(person).get(path)
    html = answer.content.decode()
    flat: dict[str, Any] = {}
    contexts: Any = answer.context or []  # one for each template that was rendered, each of several layers
    for context in reversed(list(contexts)):
        layers: Any = context.flatten() if isinstance(context, Context) else context
        flat |= layers
    return Seen(answer.status_code, text_of(html), html, flat)


def acts(seen: Seen, name: str) -> list[str]:
    """The page's links to one act."""
    return [url for url in seen.urls() if url.startswith(f"/do/{name}/")]
