"""Which trouble an opening without an order belongs to: a new one, or one that it joins.

Called by `effects` alone, under the lock that puts one reported position after the other.
"""

import datetime
from collections.abc import Callable, Collection, Mapping

from circuits import snapshot

from .models import Interruption, Trouble

Loses = Callable[[dict[str, str], Mapping[str, str]], set[str]]


def of(
    device_id: str,
    lost: Collection[str],
    *,
    at: datetime.datetime,
    stands: Mapping[str, str],
    loses: Loses,
) -> Trouble:
    """The open trouble that customers `lost` by opening `device_id` belong to, else a new one.

    It is that of the same device, else one inside which all of `lost` lie: they would lose their supply as
    well with its device alone opened, all else that is in trouble closed. `stands`: what stands open now;
    `loses(more, stands)`: premises that lose their supply when `more` opens. Cost: two traces a trouble.
    """
    troubles = list(Trouble.objects.select_for_update().filter(ended_at=None).order_by("pk"))
    same = next((one for one in troubles if one.device_id == device_id), None)
    if same:
        return same
    apart = {device_id, *(one.device_id for one in troubles)}
    others = {device: phases for device, phases in stands.items() if device not in apart}
    devices = snapshot.compiled().network.device
    for one in troubles:
        device = devices.get(one.device_id)
        if device and set(lost) <= loses({device.id: device.phases}, others):
            return one
    return Trouble.objects.create(device_id=device_id, began_at=at)


def end(ended: Collection[Interruption]) -> None:
    """The troubles of these interruptions in which nobody is out any more end with the last who came back."""
    numbers = {row.trouble_id for row in ended if row.trouble_id}
    still = Interruption.objects.filter(trouble__in=numbers, on_at=None).values("trouble")
    for one in Trouble.objects.filter(pk__in=numbers, ended_at=None).exclude(pk__in=still):
        last = one.interruptions.order_by("-on_at").values_list("on_at", flat=True).first()
        Trouble.objects.filter(pk=one.pk).update(ended_at=last)
