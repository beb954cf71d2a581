"""Who gets power back before the hour that they were told, for the desk and on the restore steps."""

import datetime
from collections.abc import Iterable, Iterator

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.standing import without
from circuits.models import Premises

from . import effects, facts
from .models import Clearance, Interruption, Step
from .rules.early import ON_TIME, Early


def machines(premises: Iterable[str]) -> dict[str, str]:
    """Premises -> the customer's machine there, what it is and where."""
    at = {one.premises: one for one in snapshot.compiled().network.sources if one.premises}
    homes = Premises.objects.in_bulk([one for one in premises if one in at])
    return {
        one: f"{at[one].called} at {home.address} {home.unit}".strip() for one, home in sorted(homes.items())
    }


def of(row: Clearance) -> Early | None:
    """What the closes that wait in a released clearance's order would give back too early; None without any.

    A close at a point that another clearance holds waits for that one. Cost: two queries, and a trace while
    somebody was told a later hour.
    """
    now = timezone.now()
    told = dict(row.affected.filter(back_by__gt=now + ON_TIME).values_list("premises_id", "back_by"))
    if row.state != Clearance.State.RELEASED or not told:
        return None
    held = Clearance.objects.filter(state__in=facts.OUT).values("points__device")
    closes = Step.objects.filter(order=row.pk, state=Step.State.WAITING, operation=Step.Operation.CLOSE)
    closing = dict(closes.exclude(device__in=held).values_list("device_id", "phases"))
    out = Interruption.objects.filter(premises__in=told, on_at=None).values_list("premises_id", flat=True)
    still_out = effects.without_supply(without(positions.open_phases(), closing))
    back = sorted(set(out) - still_out)
    hours: dict[datetime.datetime, int] = {}
    for premises in back:
        if until := told[premises]:
            hour = timezone.localtime(until)
            hours[hour] = hours.get(hour, 0) + 1
    return Early(row.pk, tuple(sorted(hours.items())), tuple(machines(back).values())) if hours else None


def orders() -> Iterator[Early]:
    """Of every released clearance that is not restored."""
    rows = Clearance.objects.filter(state=Clearance.State.RELEASED, order__state__in=facts.UNDER_WAY)
    for row in rows.order_by("pk"):
        if found := of(row):
            yield found
