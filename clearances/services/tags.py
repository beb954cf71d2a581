"""Device tags: hung and taken off with a step, or as somebody finds them at a device.

What is seen of a tag is stored like every observation: the tag comes off the board or onto it as it was
said, and what is out of the ordinary about that reaches the log entry.
"""

import datetime
from dataclasses import dataclass

from django.db.models import Q

from circuits import positions

from .. import facts
from ..models import Clearance, IsolationPoint, Step, Tag
from ..rules.words import in_order, letters

SEEN, GONE, HUNG = "seen", "gone", "hung"


@dataclass(frozen=True, slots=True)
class Observed:
    """What was said of a tag, why that is out of the ordinary, and whose tag it is."""

    words: str
    irregular: str = ""
    clearance: Clearance | None = None


def hang(point: IsolationPoint, *, done_at: datetime.datetime, by: str, irregular: str = "") -> str:
    """The tag of a point is on. Returns all that is irregular about it, by the database too; "" also where it
    hangs already.
    """
    if facts.live_tags().filter(number=point.tag_number).exists():
        return ""
    tag = Tag.objects.create(
        number=point.tag_number,
        clearance_id=point.clearance_id,
        point=point,
        device_id=point.device_id,
        phases=point.phases,
        hung_at=done_at,
        hung_by=by,
        irregular=irregular,
    )
    tag.refresh_from_db(fields=["irregular"])
    return tag.irregular


def take_off(tag: Tag, *, done_at: datetime.datetime, by: str) -> str:
    """A live tag is off. Returns what the database finds irregular about that."""
    before = tag.irregular
    Tag.objects.filter(pk=tag.pk).update(off_at=done_at, off_by=by)
    tag.refresh_from_db(fields=["irregular"])
    return tag.irregular.removeprefix(before).strip()


def clearances_at(device_id: str) -> set[int]:
    """Whose tags may be spoken of at a device: those not over that have it as a point, and those whose tag
    hangs there.
    """
    mine = Clearance.objects.filter(
        Q(points__device=device_id) & ~Q(state__in=facts.OVER) | Q(tags__device=device_id, tags__off_at=None)
    )
    return set(mine.values_list("pk", flat=True))


def observe(device_id: str, seen: str, number: str, *, done_at: datetime.datetime, by: str) -> Observed:
    """A tag is `seen`, `gone` or `hung` at a device. Without a number it is the only one that it can be."""
    if seen == HUNG:
        return _hung(device_id, number, done_at=done_at, by=by)
    live = facts.live_tags().filter(device=device_id).select_related("clearance").order_by("number")
    meant = [tag for tag in live if number in ("", tag.number)]
    if seen == SEEN and meant:
        return Observed(f"tag {number} seen" if number else "its tag seen")
    if len(meant) != 1:
        carried = ", ".join(tag.number for tag in live) or "no tag"
        text = f"Which tag is {seen} at {device_id} is not known: on the board it carries {carried}."
        return Observed(f"tag {number} {seen}" if number else f"a tag {seen}", text)
    (tag,) = meant
    marked = take_off(tag, done_at=done_at, by=by)
    text = f"Tag {tag.number} is gone from {device_id}. {marked}".strip()
    return Observed(f"tag {tag.number} gone", text, tag.clearance)


def _hung(device_id: str, number: str, *, done_at: datetime.datetime, by: str) -> Observed:
    points = IsolationPoint.objects.filter(device=device_id).select_related("clearance")
    hanging = set(facts.live_tags().values_list("number", flat=True))
    meant = [
        point
        for point in points
        if point.tag_number == number
        or (not number and point.clearance.state not in facts.OVER and point.tag_number not in hanging)
    ]
    if len(meant) != 1:
        text = f"Which point of which clearance was tagged at {device_id} is not known."
        return Observed(f"tag {number} hung" if number else "a tag hung", text)
    (point,) = meant
    ordered = point.steps.filter(half=Step.Half.ISOLATE)
    closed = in_order(set(point.phases) - set(positions.open_phases().get(device_id, "")))
    parts = [
        f"Tag {point.tag_number} hung with no step behind it."
        if point.clearance.state in facts.OVER or ordered.exclude(state=Step.State.REPORTED).exists()
        else "",
        f"{device_id} {letters(closed)} does not stand open under it." if closed else "",
    ]
    irregular = " ".join(part for part in parts if part)
    marked = hang(point, done_at=done_at, by=by, irregular=irregular)
    return Observed(f"tag {point.tag_number} hung", marked or irregular, point.clearance)
