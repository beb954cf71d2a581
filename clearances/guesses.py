"""Voltage where all points are open: what the network's record may have wrong, and who else stands on it."""

from circuits import positions, snapshot
from circuits.core.trace import Answer, trace
from circuits.models import Source, Structure

from . import facts
from .calls import metres
from .leaning import leaning_on
from .models import Clearance
from .rules.words import letters

NEAR = 3  # poles that are named


def about(clearance: Clearance, pole: str) -> list[str]:
    """A wrong phase label, a tie that is not on record, a feed from a customer's side: one sentence each,
    with what the record says of it. A few queries and one trace.
    """
    return [_label(clearance, pole), _tie(clearance, pole), _backfeed(clearance)]


def other_plans(clearance: Clearance) -> list[str]:
    """Whatever else leans on the same points and limits: it was planned on the same record."""
    compiled = snapshot.compiled()
    poles = {compiled.network.node[node].structure for node, _ in facts.limits_of(clearance, compiled)}
    devices = list(clearance.points.values_list("device", flat=True))
    return [one.words for one in leaning_on(devices, poles) if one.number != clearance.pk]


def _label(clearance: Clearance, pole: str) -> str:
    devices = snapshot.compiled().network.device
    short = [
        f"{point.device_id} on {letters(point.phases)} only"
        for point in clearance.points.all()
        if (device := devices.get(point.device_id)) and set(device.phases) != set(point.phases)
    ]
    seen = f" Points that are open on some phases: {'; '.join(short)}." if short else ""
    return f"A wrong phase label: are the phases at {pole}, and at each point, those of the record?{seen}"


def _tie(clearance: Clearance, pole: str) -> str:
    compiled = snapshot.compiled()
    state = trace(compiled, positions.open_phases())
    inside = {node for node, _ in facts.limits_of(clearance, compiled)}
    fed = {
        node.structure
        for node in compiled.network.nodes
        if node.id not in inside
        and any(state.answer(node.id, phase) is Answer.ENERGIZED for phase in node.phases)
    }
    rows = {
        row.pk: (float(row.latitude), float(row.longitude))
        for row in Structure.objects.filter(pk__in={pole, *fed})
        if row.latitude is not None and row.longitude is not None
    }
    here = rows.get(pole)
    if here is None:
        return f"A tie that is not on record: where {pole} stands is not known, so walk the limits."
    far = sorted((metres(here, at), one) for one, at in rows.items() if one != pole and one in fed)
    near = ", ".join(f"{one} ({distance:.0f} m)" for distance, one in far[:NEAR])
    return f"A tie that is not on record. Energized by the board and nearest: {near or 'nothing'}."


def _backfeed(clearance: Clearance) -> str:
    homes = list(clearance.affected.values_list("premises", flat=True))
    machines = Source.objects.exclude(kind="station").filter(premises__in=homes).select_related("premises")
    known = ", ".join(
        f"{one.pk} at {one.premises.address}" for one in machines.order_by("pk") if one.premises
    )
    return (
        f"A feed from a customer's side. On record: {known or 'no machine'}; one that is not on record may "
        f"stand at any of the {len(homes)} customers counted."
    )
