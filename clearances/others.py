"""What others have on the network in some hours, so that a plan leaves it alone."""

import datetime
from collections import defaultdict

from django.db.models import Q
from django.utils import timezone

from circuits import snapshot
from circuits.upward import InTheWay

from . import facts, protections
from .models import Clearance
from .templatetags.board import clock

Window = tuple[datetime.datetime, datetime.datetime]


def in_the_way(window: Window | None, but: int = 0) -> InTheWay:
    """Devices that are not to be operated in a window, and nodes that no new feed is to cross.

    Kept are devices with a live tag, points of clearances that are out or meant for the window, and devices
    under a hot-line hold, a do-not-operate or a field clearance. Not to be crossed are the limits of these
    clearances. Without a window it is what stands now; the clearance numbered `but` is left out.
    """
    kept: dict[str, list[str]] = defaultdict(list)
    for tag in facts.live_tags().exclude(clearance=but).select_related("clearance").order_by("number"):
        kept[tag.device_id].append(f"tag {tag.number} of work clearance {tag.clearance_id}")
    others = Clearance.objects.exclude(state__in=facts.OVER).exclude(pk=but)
    out = Q(state__in=facts.OUT)
    start, end = window or (timezone.now(), timezone.now())
    meant = Q(window_start__lt=end, promised_end__gt=start)
    crossed: dict[str, str] = {}
    compiled = snapshot.compiled()
    rows = others.filter(out | meant if window else out).select_related("holder")
    for row in rows.prefetch_related("limits", "points").order_by("pk"):
        name = f"work clearance {row.pk} ({row.holder})"
        for point in row.points.all():
            kept[point.device_id].append(f"a point of {name}")
        hours = f"{clock(row.window_start)} to {clock(row.promised_end)}"
        for node, _ in sorted(facts.limits_of(row, compiled)):
            crossed.setdefault(node, f"{name} works there, {hours}")
    for hold in protections.holds():
        kept[hold.device_id].append(f"hot-line hold {hold.number}")
    for customer in protections.do_not_operates():
        kept[customer.device_id].append(f"do-not-operate {customer.number}")
    for field in protections.field_clearances():
        kept[field.device_id].append(f"field clearance {field.number}")
        crossed |= dict.fromkeys(field.nodes, f"field clearance {field.number} is on there")
    return InTheWay({device: ", ".join(whose) for device, whose in kept.items()}, crossed)
