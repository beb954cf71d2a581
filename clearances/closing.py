"""Whom a close, or a test close, would hit: asked on the page of a device, before anybody orders anything."""

from collections.abc import Iterator

from circuits import positions, snapshot
from circuits.core.trace import Answer, trace

from . import facts
from .beside import Beside
from .models import Clearance


def asked_first(device_id: str, phases: str) -> list[str]:
    """Sentences: what stands at the device, whom closing these phases would hit as all is reported, and whom
    if one report were wrong.
    """
    here = Beside.read().at(device_id)
    hits = facts.hits_of_closing(device_id, phases)
    return [
        *(f"{tag.holder}, {tag.phone}: tag {tag.number} is on it." for tag in facts.tags_at(device_id)),
        *here,
        *(
            f"{hit.reach}: {hit.what} ({hit.under})" + (", has said yes." if hit.agreed else ".")
            for hit in hits
            if hit.agreed or not any(hit.other and hit.other[1:] in sentence for sentence in here)
        ),
        *_behind_one_point(device_id, phases, {hit.clearance for hit in hits}),
    ]


def _behind_one_point(device_id: str, phases: str, hit: set[int]) -> Iterator[str]:
    """The clearances that are out and not hit, which one of their points alone keeps from what is closed: if
    that one is not open, they are. Costs a trace for each of their points.
    """
    compiled = snapshot.compiled()
    device = compiled.network.device[device_id]
    stands = facts.without(positions.open_phases(), facts.ordered_closed())
    out = Clearance.objects.filter(state__in=facts.OUT).exclude(pk__in=hit).select_related("holder")
    for row in out.prefetch_related("limits", "points").order_by("pk"):
        limits = facts.limits_of(row, compiled)
        for point in row.points.all():
            if point.device_id not in compiled.network.device:
                continue
            wrong = trace(compiled, facts.without(stands, {point.device_id: point.phases, device_id: phases}))
            joined = {wrong.island_of(device.from_node, phase) for phase in phases}
            fed = (at for at in limits if wrong.answer(*at) is not Answer.DEENERGIZED)
            if any(wrong.island_of(*at) in joined for at in fed):
                yield (
                    f"{row.holder}, {row.holder.phone}: only {point.device_id} keeps it from clearance "
                    f"{row.pk}. Call first, and enter the answer as a remark."
                )
