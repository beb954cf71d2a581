"""When the power of each premises is to be back, which more than one clearance may have a say in, and telling
the customers again whose hour has moved.
"""

import datetime
from collections.abc import Collection

from django.db.models import Q

from circuits import snapshot
from circuits.asleft import CannotBeError
from circuits.core.network import Compiled
from circuits.core.trace import trace
from circuits.core.values import normally_open

from . import notices
from .asleft import named
from .at_device import there
from .facts import OUT, OVER, UNDER_WAY
from .models import ChangeSet, Clearance
from .pickups import Planned, planned

Hours = dict[str, datetime.datetime]


def _holding() -> list[tuple[datetime.datetime, datetime.datetime, Planned]]:
    """From when until when, as it is promised, each checked or given clearance keeps what open and closed."""
    rows = (
        Clearance.objects.exclude(state__in=OVER)
        .filter(Q(state__in=OUT) | Q(order__state__in=UNDER_WAY))
        .prefetch_related("points", "pick_ups")
    )
    return [(row.window_start, row.promised_end, planned(row)) for row in rows]


def _network_at(moment: datetime.datetime) -> Compiled:
    """The network as it will be when every job that is promised by then has made its changes."""
    rows = ChangeSet.objects.filter(state=ChangeSet.State.PLANNED, clearance__promised_end__lte=moment)
    planned = [one for row in rows.exclude(clearance__state__in=OVER) for one in row.planned]
    if not planned:
        return snapshot.compiled()
    try:
        return snapshot.planned(named(planned))
    except CannotBeError:  # flagged where it is planned
        return snapshot.compiled()


def _without_supply(network: Compiled, plan: Planned) -> set[str]:
    """Premises without their normal supply when this is moved and all else stands normally. Of a device those
    phases move that it has then: they change when a line tap moves.
    """
    known = network.network.device
    opens, closes = (
        {name: there(network, name, phases) for name, phases in moved.items() if name in known}
        for moved in (plan.opens, plan.closes)
    )
    return set(trace(network, Planned(opens, closes).on(normally_open(network.network))).not_energized())


def back_by(clearance: Clearance, premises: Collection[str]) -> Hours:
    """For each of the premises the first promised end, from this clearance's on, at which no clearance keeps
    it from its normal supply any more, on the network as it will be then. Cost: one trace for each promised
    end, and a compilation where the network is to be changed by then.
    """
    holding = _holding()
    ends = {clearance.promised_end, *(end for _, end, _ in holding if end > clearance.promised_end)}
    hours: Hours = {}
    waiting = set(premises)
    for end in sorted(ends):
        plan = Planned()
        for start, until, held in holding:
            if start <= end < until:
                plan |= held
        back = waiting - _without_supply(_network_at(end), plan) if waiting else set()
        hours |= dict.fromkeys(back, end)
        waiting -= back
    return hours | dict.fromkeys(waiting, max(ends))


def tell(clearance: Clearance, premises: Collection[str]) -> None:
    """Promise the notice of the planned interruption to these premises, each with its hour."""
    hours = back_by(clearance, premises)
    before = dict(clearance.affected.exclude(told=0).values_list("premises_id", "told"))
    for end in set(hours.values()):
        those = [one for one, hour in hours.items() if hour == end]
        clearance.affected.filter(premises__in=those).update(told=clearance.telling, back_by=end)
    notices.tell_planned(clearance, hours, before)


def renew() -> str:
    """Tell everybody again whose hour is no longer the one that they were told; a later one asks a
    life-support premises again, because its plan was made for the earlier. In words, how many.

    To be called with the clearances of `told` locked, after one of them has moved.
    """
    said = []
    for row in told():
        before = dict(row.affected.exclude(told=0).values_list("premises_id", "back_by"))
        now = back_by(row, before)
        moved = {one for one, hour in now.items() if _differs(hour, before[one])}
        if not moved:
            continue
        Clearance.objects.filter(pk=row.pk).update(telling=row.telling + 1)
        row.refresh_from_db()
        tell(row, moved)
        later = [one for one in moved if (was := before[one]) is None or now[one] > was]
        row.affected.filter(premises__in=later, care="life_support").update(answered_at=None)
        said.append(f"{len(moved)} customers of clearance {row.pk}")
    return f" Told another hour: {', '.join(said)}." if said else ""


def _differs(hour: datetime.datetime, told: datetime.datetime | None) -> bool:
    """By a minute at least: nobody is told of less."""
    return told is None or abs(hour - told) >= datetime.timedelta(minutes=1)


def told() -> list[Clearance]:
    """The clearances whose customers have been told and are not over."""
    return list(Clearance.objects.exclude(state__in=OVER).exclude(telling=0).order_by("pk"))
