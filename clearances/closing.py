"""Whom a close, or a test close, would hit: asked on the page of a device, before anybody orders anything."""

from . import at_device, rollcall
from .beside import Beside
from .models import Clearance
from .rules.facts import Hit


def asked_first(device_id: str, phases: str) -> list[str]:
    """Sentences: what stands at the device, whom closing these phases would hit as all is reported, and whom
    if one report were wrong. Who works under a clearance is named with the minutes to have all off the line.
    """
    here = Beside.read().at(device_id)
    hits = at_device.hits_of_closing(device_id, phases)
    near = rollcall.one_report_away(device_id, phases)
    numbers = {one.clearance for one in (*hits, *near)}
    recall = dict(Clearance.objects.filter(pk__in=numbers).values_list("pk", "recall_minutes"))

    def under(hit: Hit) -> str:
        known = "" if hit.other else f", recall time {recall[hit.clearance]} min"
        return f"({hit.under}{known})"

    return [
        *(f"{tag.holder}, {tag.phone}: tag {tag.number} is on it." for tag in at_device.tags_at(device_id)),
        *here,
        *(
            f"{hit.reach}: {hit.what} {under(hit)}" + (", has said yes." if hit.agreed else ".")
            for hit in hits
            if hit.agreed or not any(hit.other and hit.other[1:] in sentence for sentence in here)
        ),
        *(
            f"{hit.reach}: {hit.what} {under(hit)}. Call first, and enter the answer as a remark."
            for hit in near
            if hit.clearance not in {one.clearance for one in hits}
        ),
    ]
