"""How the templates write a moment."""

from datetime import datetime

from django import template
from django.utils import timezone
from django.utils.formats import date_format

register = template.Library()


@register.filter
def clock(at: datetime | str | None) -> str:
    """24-hour local time, with its date when that is not today: "15:00", "Thu 26 Nov 08:00". Words pass unchanged."""
    if not isinstance(at, datetime):
        return at or ""
    local = timezone.localtime(at)
    return date_format(local, "H:i" if local.date() == timezone.localdate() else "D j M H:i")
