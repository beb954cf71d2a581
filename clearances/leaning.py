"""Who leans on a device or a place: whatever has to be looked at again when something else is found there."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Q

from .facts import OVER, UNDER_WAY
from .models import Clearance, GroundSet, Limit, LogEntry, Step, SwitchingOrder, Trouble
from .network import standing_on
from .rules.words import letters


@dataclass(frozen=True, slots=True)
class Leaning:
    """A clearance, a checked order or a plan (by the clearance's number), and why it leans there."""

    number: int
    what: str
    whys: tuple[str, ...]

    @property
    def words(self) -> str:
        return f"{self.what}: {'; '.join(self.whys)}"


def leaning_on(devices: Collection[str] = (), poles: Collection[str] = ()) -> tuple[Leaning, ...]:
    """All that is not over and leans on one of these: a device as its point, a step still to come there,
    limits or a ground set at a pole. Five queries, by the clearance's number.
    """
    whys: dict[int, list[str]] = defaultdict(list)
    points = Clearance.objects.filter(points__device__in=devices).exclude(state__in=OVER)
    for number, device in points.order_by("points__device").values_list("pk", "points__device"):
        whys[number].append(f"{device} is a point of it")
    to_come = Step.objects.filter(
        device__in=devices,
        state__in=[Step.State.WAITING, Step.State.GIVEN],
        order__state__in=[SwitchingOrder.State.CHECKED, SwitchingOrder.State.PAUSED],
    )
    for step in to_come.order_by("half", "place"):
        whys[step.order_id].append(
            f"step {step.place} is still to come at {step.device_id} {letters(step.phases)}"
        )
    at = Q(node__structure__in=poles) | Q(line__from_node__structure__in=poles)
    limits = Limit.objects.filter(at | Q(line__to_node__structure__in=poles)).exclude(
        clearance__state__in=OVER
    )
    for number in limits.order_by().values_list("clearance", flat=True).distinct():
        whys[number].append("its limits reach there")
    for ground in GroundSet.objects.filter(pole__in=poles, off_at=None).order_by("label"):
        whys[ground.clearance_id].append(f"ground set {ground} is on")
    rows = Clearance.objects.filter(pk__in=whys).select_related("holder", "order").order_by("pk")
    return tuple(Leaning(row.pk, _what(row), tuple(dict.fromkeys(whys[row.pk]))) for row in rows)


def _what(row: Clearance) -> str:
    order = getattr(row, "order", None)
    state = row.get_state_display()
    kind = (
        f"Work clearance {row.pk}"
        if row.state not in (Clearance.State.ASKED, *OVER)
        else f"Order {row.pk}, {order.state},"
        if order and order.state in UNDER_WAY
        else f"Plan {row.pk}"
    )
    phone = f", {row.holder.phone}" if row.holder.phone else ""
    return f"{kind} of {row.holder}{phone} ({state})"


def of_entry(entry: LogEntry) -> tuple[str, ...]:
    """What leans on the device or pole that a report is about, in sentences: what is no clearance and an open
    trouble too.
    """
    data = entry.data
    devices = {str(data["device"])} if data.get("device") else set()
    if "step" in data:
        devices |= set(Step.objects.filter(pk=data["step"]).values_list("device", flat=True))
    poles = {str(data["pole"])} if data.get("pole") else set()
    troubles = Trouble.objects.filter(device__in=devices, ended_at=None).order_by("pk")
    return (
        *(one.words for one in leaning_on(devices, poles)),
        *(sentence for device in sorted(devices) for sentence in standing_on(device)),
        *(f"Trouble {one.pk} at {one.device_id}" for one in troubles),
    )
