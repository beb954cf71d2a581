"""What customers were told, against the clearances that keep the power from them."""

import datetime

from django.db.models import Q

from circuits import snapshot
from circuits.asleft import CannotBeError
from circuits.core.network import Compiled, normally_open
from circuits.core.standing import also_open, without
from circuits.core.trace import trace
from clearances import asleft, at_device, facts
from clearances.models import AffectedPremises, ChangeSet, Clearance


def never_too_early() -> None:
    """No told hour lies within the hours of checked clearances that, together, keep that premises away."""
    told = AffectedPremises.objects.filter(back_by__isnull=False).exclude(clearance__state__in=facts.OVER)
    promised: dict[datetime.datetime, set[str]] = {}
    for row in told:
        assert row.back_by
        promised.setdefault(row.back_by, set()).add(row.premises_id)
    if not promised:
        return
    checked = Q(state__in=facts.OUT) | Q(order__state__in=["checked", "paused"])
    away = list(Clearance.objects.exclude(state__in=facts.OVER).filter(checked))
    for hour, premises in promised.items():
        network = as_it_will_be(hour)
        points: dict[str, str] = {}
        ties: dict[str, str] = {}
        for one in away:
            if one.window_start <= hour < one.promised_end:
                known = network.network.device
                moved = one.pick_ups.filter(device__in=known, closes=True).select_related("device")
                ties |= {row.device_id: row.device.phases for row in moved}
                held = one.points.filter(device__in=known).values_list("device_id", "phases")
                points = also_open(
                    points, {device: at_device.there(network, device, phases) for device, phases in held}
                )
        stands = also_open(without(normally_open(network.network), ties), points)
        assert not premises & set(trace(network, stands).not_energized()), hour


def as_it_will_be(hour: datetime.datetime) -> Compiled:
    """With the changes of each job that is promised by then; as it is now, where they can't be laid in."""
    rows = ChangeSet.objects.filter(state="planned", clearance__promised_end__lte=hour)
    planned = [one for row in rows.exclude(clearance__state__in=facts.OVER) for one in row.planned]
    try:
        return snapshot.planned(asleft.named(planned)) if planned else snapshot.compiled()
    except CannotBeError:
        return snapshot.compiled()
