"""Field clearances: the start and the finish line that the desk gets of a crew behind its own disconnect."""

import datetime
from collections.abc import Iterator

from django.db.models import F
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.core.beyond import Beyond, beyond
from circuits.models import Device

from .. import at_device, facts, protections
from ..models import Clearance, FieldClearance, GroundSet, Role, Trouble
from ..rules import field_clearances as rules
from ..rules.refusal import Refusal
from ..rules.words import in_order, letters
from .holds import unknown_device
from .switching import where
from .verb import Outcome, Refused, Who, verb, write


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def start_field_clearance(
    who: Who,
    *,
    device: str,
    phases: str,
    work: str,
    crew: str,
    in_sight: bool,
    one_crew: bool,
    done_at: datetime.datetime,
) -> Outcome:
    """One crew works behind its own open disconnect. The device is reported open first, as any opening is."""
    row = Device.objects.filter(pk=device).first()
    if row is None or not phases or not set(phases) <= set(row.phases):
        return Refused((unknown_device(f"{device} {phases}".strip()),))
    phases = in_order(phases)
    compiled = snapshot.compiled()
    found = beyond(compiled, device, phases)
    refusals = rules.may_start(
        holder=str(who.actor),
        qualified=who.actor.may_hold_on(timezone.localdate()),
        device=device,
        phases=phases,
        stands_open=positions.open_phases().get(device, ""),
        in_sight=in_sight,
        one_crew=one_crew,
        ways=tuple(isolation.words(compiled, way) for way in facts.nearest(found.ways)),
        at_device=tuple(_at_device(device)),
        inside=tuple(_inside(found)),
    )
    if refusals:
        return Refused(refusals)
    field = FieldClearance.objects.create(
        device=row,
        phases=phases,
        holder=who.actor,
        crew=crew,
        work=work,
        nodes=sorted({node for node, _ in found.inside}),
        inside_phases=in_order({phase for _, phase in found.inside}),
        started_at=done_at,
    )
    # Whoever is out behind it is out for this work; the words are read to callers.
    Trouble.objects.filter(device=device, ended_at=None, cause="").update(
        cause="planned work of ours close by", version=F("version") + 1
    )
    words = (
        f"{who.said_by}: field clearance {field.number} on, {device} {letters(phases)} ({where(row)}) open, "
        f"in sight and under sole control, no operator order: {work}, {timezone.localtime(done_at):%H:%M}."
    )
    return write(
        who, "start_field_clearance", words, done_at=done_at, field_clearance=field.pk, device=device
    )


def _at_device(device: str) -> Iterator[str]:
    """What of others stands or is under way at the device."""
    for tag in at_device.tags_at(device):
        yield f"tag {tag.number} of clearance {tag.clearance} ({tag.holder}, {tag.phone}) is on it"
    for hit in at_device.holders_at(device):
        yield f"it is a point of clearance {hit.clearance} ({hit.reach})"
    for step in at_device.steps_out_at(device, but=0):
        yield f"step {step.place} of order {step.order} is given there to {step.given_to}"
    for sentence in protections.said_of(device):
        yield sentence.rstrip(".")


def _inside(found: Beyond) -> Iterator[str]:
    """Whose work lies beyond the device."""
    compiled = snapshot.compiled()
    nodes = {node for node, _ in found.inside}
    out = Clearance.objects.filter(state__in=facts.OUT).select_related("holder").prefetch_related("limits")
    for row in out.order_by("pk"):
        if nodes & {node for node, _ in facts.limits_of(row, compiled)}:
            yield f"clearance {row.pk} ({row.holder}, {row.holder.phone})"
    poles = {compiled.network.node[node].structure for node in nodes}
    for ground in GroundSet.objects.filter(off_at=None, pole__in=poles):
        yield f"ground set {ground} of clearance {ground.clearance_id}"
    for hold in protections.holds():
        if nodes & set(hold.nodes):
            yield f"hot-line hold {hold.number} ({hold.holder}, {hold.holder.phone})"
    for field in protections.field_clearances():
        if nodes & set(field.nodes):
            yield f"field clearance {field.number} ({field.holder}, {field.holder.phone})"


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def end_field_clearance(
    who: Who, *, field_clearance: int, all_off: bool, done_at: datetime.datetime
) -> Outcome:
    """The employee in charge ends it, with everybody and every ground set off."""
    rows = FieldClearance.objects.select_for_update(no_key=True, of=("self",)).select_related("holder")
    row = rows.get(pk=field_clearance)
    refusals = rules.may_end(
        number=row.number,
        state=row.state,
        holder=str(row.holder),
        is_holder=who.actor.pk == row.holder_id,
        all_off=all_off,
    )
    if refusals:
        return Refused(refusals)
    FieldClearance.objects.filter(pk=row.pk).update(
        state=FieldClearance.State.ENDED, ended_at=done_at, ended_by=who.actor
    )
    words = (
        f"{who.said_by}: field clearance {row.number} at {row.device_id} ended, everybody and every ground "
        f"set off, {timezone.localtime(done_at):%H:%M}."
    )
    return write(who, "end_field_clearance", words, done_at=done_at, field_clearance=row.pk)


def inside_limits(clearance: Clearance) -> tuple[Refusal, ...]:
    """Against giving a clearance: crews that work inside its limits under field clearances."""
    nodes = {node for node, _ in facts.limits_of(clearance, snapshot.compiled())}
    fields = tuple(
        (row.number, ", ".join(part for part in (str(row.holder), row.holder.phone) if part))
        for row in protections.field_clearances()
        if nodes & set(row.nodes)
    )
    return rules.no_field_clearance_inside(clearance.pk, fields)
