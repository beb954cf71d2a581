"""What others have on the network in some hours, so that a plan leaves it alone, or shares it and says so."""

import datetime
from collections import defaultdict
from collections.abc import Collection

from django.db.models import Q
from django.utils import timezone

from circuits import snapshot
from circuits.upward import InTheWay

from . import facts, protections
from .models import Clearance, Step
from .templatetags.board import clock

Window = tuple[datetime.datetime, datetime.datetime]


def in_the_way(window: Window | None, but: int = 0) -> InTheWay:
    """Devices that are not to be operated in a window, points to be shared, and nodes that no new feed is to
    cross.

    Kept are devices with a live tag, points of clearances that are out or for which something is ordered or
    hung, what others move to pick load up, and devices under a hot-line hold, a do-not-operate or a field
    clearance. A point of a clearance that is only asked for, meant for the window, is shared: both have it
    open then, each under its own tag. Not to be crossed are the limits of all these clearances. Without a
    window it is what stands now; the clearance numbered `but` is left out.
    """
    kept: dict[str, list[str]] = defaultdict(list)
    points: dict[str, dict[int, Clearance]] = defaultdict(dict)
    tags = facts.live_tags().exclude(clearance=but).select_related("clearance__holder").order_by("number")
    for tag in tags:
        kept[tag.device_id].append(f"tag {tag.number} of work clearance {tag.clearance_id}")
        if tag.clearance.state not in facts.OVER:
            points[tag.device_id][tag.clearance_id] = tag.clearance
    others = Clearance.objects.exclude(state__in=facts.OVER).exclude(pk=but)
    out = Q(state__in=facts.OUT)
    start, end = window or (timezone.now(), timezone.now())
    meant = Q(window_start__lt=end, promised_end__gt=start)
    crossed: dict[str, str] = {}
    compiled = snapshot.compiled()
    rows = others.filter(out | meant if window else out).select_related("holder")
    begun = _begun() | {tag.clearance_id for tag in tags}
    for row in rows.prefetch_related("limits", "points", "pick_ups").order_by("pk"):
        for point in row.points.all():
            points[point.device_id][row.pk] = row
            if row.state in facts.OUT or row.pk in begun:
                kept[point.device_id].append(f"a point of {_named(row)}")
        for moved in row.pick_ups.all():
            kept[moved.device_id].append(f"moved to pick load up for {_named(row)}")
        for node, _ in sorted(facts.limits_of(row, compiled)):
            crossed.setdefault(node, f"{_named(row)} works there, {_hours(row)}")
    for hold in protections.holds():
        kept[hold.device_id].append(f"hot-line hold {hold.number}")
    for customer in protections.do_not_operates():
        kept[customer.device_id].append(f"do-not-operate {customer.number}")
    for field in protections.field_clearances():
        kept[field.device_id].append(f"field clearance {field.number}")
        crossed |= dict.fromkeys(field.nodes, f"field clearance {field.number} is on there")
    return InTheWay(
        kept={device: ", ".join(whose) for device, whose in kept.items()},
        shared={device: _shared(device, whose.values(), (start, end)) for device, whose in points.items()},
        not_crossed=crossed,
    )


def _begun() -> set[int]:
    """The numbers of the clearances only asked for, of whose orders a step was given all the same."""
    asked = Step.objects.filter(order__clearance__state=Clearance.State.ASKED)
    given = asked.filter(state__in=[Step.State.GIVEN, Step.State.REPORTED])
    return set(given.order_by().values_list("order_id", flat=True))


def _shared(device: str, rows: Collection[Clearance], window: Window) -> str:
    """Who else has a point, in which hours, and what that means where only one of them wants it open."""
    whose = " and of ".join(f"{_named(row)}, {_hours(row)}," for row in rows)
    tags, released = ("two", "both") if len(rows) == 1 else (len(rows) + 1, "all")
    goes_back = f"{tags} tags, and it goes back only when {released} are released"
    said = [f"{device} is a point of {whose} as well: {goes_back}."]
    start, end = window
    for row in rows:
        if start < row.window_start < end:
            said.append(f"Work clearance {row.pk} begins within these hours, and finds {device} open.")
        if start < row.promised_end < end:
            said.append(
                f"Work clearance {row.pk} ends within these hours: {device} is not closed for it before this "
                "one is released."
            )
    return " ".join(said)


def _named(row: Clearance) -> str:
    return f"work clearance {row.pk} ({row.holder})"


def _hours(row: Clearance) -> str:
    return f"{clock(row.window_start)} to {clock(row.promised_end)}"
