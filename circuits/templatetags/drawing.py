"""A drawing as SVG, written here because a template takes five times as long over a whole feeder."""

from collections.abc import Iterator
from html import escape
from urllib.parse import quote

from django import template
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from circuits.oneline import OneLine
from circuits.oneline.shapes import Text

register = template.Library()


@register.simple_tag
def svg(oneline: OneLine, plain: bool = False) -> SafeString:
    """The drawing; `plain` where nothing may lead to the pages of devices."""
    pages = "" if plain else reverse("device", args=["-"])
    return mark_safe("".join(_pieces(oneline, pages)))  # noqa: S308  escaped where it is a text


def _pieces(oneline: OneLine, pages: str) -> Iterator[str]:
    width, height = f"{oneline.width:g}", f"{oneline.height:g}"
    yield f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="group"'
    yield ' aria-label="The same in sentences follows">'
    for box in oneline.boxes:
        yield f'<rect class="limits" x="{box.x:g}" y="{box.y:g}"'
        yield f' width="{box.width:g}" height="{box.height:g}" rx="4"/>'
    for style, data in oneline.paths:
        yield f'<path class="{style}" d="{data}"/>'
    for text in oneline.texts:
        yield from _words(text, pages)
    yield "</svg>"


def _words(text: Text, pages: str) -> Iterator[str]:
    address = ""
    if text.row:
        address = f"#row-{text.row}"
    elif text.device and pages:
        address = pages.replace("/-/", f"/{quote(text.device, safe='')}/")
    yield from (f'<g id="{escape(anchor)}">' for anchor in text.anchors)
    words = f'<text class="{text.style}" x="{text.x:g}" y="{text.y:g}">{escape(text.words)}</text>'
    yield f'<a href="{address}">{words}</a>' if address else words
    yield "</g>" * len(text.anchors)
