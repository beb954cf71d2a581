"""What hangs at a device, for its page (named in config/settings.py)."""

from django.urls import reverse

from circuits.upward import TagOn

from . import facts
from .models import Person
from .rooms import PAGES, may_see_sheet
from .templatetags.board import clock


def tags_on(device_id: str, user: object) -> list[TagOn]:
    """The live tags at a device, the longest there first, each with its clearance."""
    tags = facts.live_tags().filter(device=device_id).select_related("clearance__holder")
    out = []
    for tag in tags.order_by("hung_at", "pk"):
        holder = tag.clearance.holder
        people = tag.clearance.sign_ons.filter(off_at=None).count()
        words = (
            f"work clearance {tag.clearance_id}, {holder}, {holder.phone or 'no telephone on record'}, "
            f"{people} on; hung {clock(tag.hung_at)} by {tag.hung_by}"
        )
        if tag.irregular:
            words += f"; irregular: {tag.irregular}"
        out.append(TagOn(tag.number, tag.phases, words, _page_of(tag.clearance_id, user)))
    return out


def _page_of(clearance: int, user: object) -> str:
    """The page of a clearance that is for this person, "" for none."""
    if isinstance(user, Person) and user.has_role(*PAGES["clearance"]):
        return reverse("clearance", args=[clearance])
    if isinstance(user, Person) and may_see_sheet(user, clearance):
        return reverse("sheet", args=[clearance])
    return ""
