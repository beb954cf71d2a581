"""What customers were told, against the clearances that keep the power from them."""

from django.db.models import Q

from circuits import snapshot
from circuits.asleft import CannotBeError
from circuits.core.network import Compiled, normally_open
from circuits.core.trace import trace
from clearances import asleft, effects, facts
from clearances.models import AffectedPremises, ChangeSet, Clearance


def never_too_early() -> None:
    """No told hour lies within the hours of checked clearances that, together, keep that premises away."""
    told = AffectedPremises.objects.exclude(back_by=None).exclude(clearance__state__in=facts.OVER)
    hours: dict[object, set[str]] = {}
    for premises, hour in told.values_list("premises_id", "back_by"):
        hours.setdefault(hour, set()).add(premises)
    if not hours:
        return
    away = Clearance.objects.exclude(state__in=facts.OVER).filter(
        Q(state__in=facts.OUT) | Q(order__state__in=["checked", "paused"])
    )
    for hour, premises in hours.items():
        network = as_it_will_be(hour)
        points = normally_open(network.network)
        for row in away:
            if row.window_start <= hour < row.promised_end:  # type: ignore[operator]
                held = dict(row.points.values_list("device_id", "phases"))
                known = network.network.device
                there = {
                    one: facts.there(network, one, phases) for one, phases in held.items() if one in known
                }
                points = effects.opened(points, there)
        assert not premises & set(trace(network, points).not_energized()), hour


def as_it_will_be(hour: object) -> Compiled:
    """With the changes of each job that is promised by then; as it is now, where they can't be laid in."""
    rows = ChangeSet.objects.filter(state="planned", clearance__promised_end__lte=hour)
    planned = [one for row in rows.exclude(clearance__state__in=facts.OVER) for one in row.planned]
    try:
        return snapshot.planned(asleft.named(planned)) if planned else snapshot.compiled()
    except CannotBeError:
        return snapshot.compiled()
