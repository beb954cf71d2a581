"""How the templates write a moment and a number."""

import re
from datetime import datetime

from django import template
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

# A pole, device, tag or telephone number, phases in a row, a figure with its unit: each is misread when it
# is torn over two lines.
WHOLE = re.compile(
    r"[A-Z]{1,3}-\d+(?:/[A-Z]{1,3}-\d+)*"
    r"|\d+(?:-\d+)+"
    r"|\b[ABC](?:,? [ABC])+\b"
    r"|\d[\d./]* (?:kVA|kV|kW|V|A|ft|in|m|min|h)\b(?: \d+ (?:in|min))?"
)


@register.filter
def clock(at: datetime | str | None) -> str:
    """24-hour local time, with its date when that is not today: "15:00", "Thu 26 Nov 08:00". Words pass
    unchanged."""
    if not isinstance(at, datetime):
        return at or ""
    local = timezone.localtime(at)
    return date_format(local, "H:i" if local.date() == timezone.localdate() else "D j M H:i")


@register.filter
def whole(words: object) -> SafeString:
    """The words as HTML, with every number the trade reads as one thing kept on one line.

    >>> whole("C-208 <A B C>")
    '<span class="keep">C-208</span> &lt;<span class="keep">A B C</span>&gt;'
    """
    return mark_safe(WHOLE.sub(r'<span class="keep">\g<0></span>', str(escape(words))))  # noqa: S308  escaped before
