"""Customers' do-not-operates: given for somebody who is not on the board, given back by that person only."""

from django.utils import timezone

from circuits import positions
from circuits.models import Device

from ..models import DoNotOperate, Person, Role, Step
from ..rules import do_not_operate as rules
from ..rules.words import in_order, letters
from .holds import unknown_device
from .switching import where
from .verb import Outcome, Refused, Who, verb, write


@verb(Role.OPERATOR, again=True)
def give_do_not_operate(
    who: Who, *, device: str, phases: str, name: str, employer: str, phone: str, work: str
) -> Outcome:
    """Keep an open device open for a customer's worker. It is not a clearance, and nothing is said of what
    lies beyond.
    """
    row = Device.objects.filter(pk=device).first()
    if row is None or not phases or not set(phases) <= set(row.phases):
        return Refused((unknown_device(f"{device} {phases}".strip()),))
    details = positions.details([device])
    inoperable = {phase for phase in phases if (report := details[device, phase]) and report.made_inoperable}
    refusals = rules.may_give_do_not_operate(
        device=device,
        phases=phases,
        stands_open=positions.open_phases().get(device, ""),
        inoperable=in_order(inoperable),
        close_ordered=Step.objects.filter(
            device=row, state=Step.State.GIVEN, operation=Step.Operation.CLOSE
        ).exists(),
        named=bool(name.strip() and employer.strip() and phone.strip()),
    )
    if refusals:
        return Refused(refusals)
    given = DoNotOperate.objects.create(
        device=row,
        phases=in_order(phases),
        name=" ".join(name.split()),
        employer=employer.strip(),
        phone=phone.strip(),
        work=work,
        given_at=timezone.now(),
        given_by=who.actor,
    )
    words = (
        f"{who.actor} gives do-not-operate {given.number} at {device} {letters(given.phases)} ({where(row)}) "
        f"for {given.name} of {given.employer}, {given.phone}: {work}. It is not a clearance."
    )
    return write(who, "give_do_not_operate", words, do_not_operate=given.pk, device=device)


@verb(Role.OPERATOR, again=True)
def give_back_do_not_operate(
    who: Who, *, do_not_operate: int, given_back_by: str, met_by: Person | None, met_where: str
) -> Outcome:
    """The named person, met on site by somebody of the board, has given it back."""
    rows = DoNotOperate.objects.select_for_update(no_key=True)
    row = rows.get(pk=do_not_operate)
    refusals = rules.may_give_back_do_not_operate(
        number=row.number,
        state=row.state,
        name=row.name,
        given_back_by=given_back_by,
        met_by=str(met_by or ""),
        met_where=met_where,
    )
    if refusals:
        return Refused(refusals)
    DoNotOperate.objects.filter(pk=row.pk).update(
        state=DoNotOperate.State.GIVEN_BACK,
        given_back_at=timezone.now(),
        met_by=met_by,
        met_where=met_where.strip(),
    )
    words = (
        f"{row.name} gives do-not-operate {row.number} at {row.device_id} back, met by {met_by} "
        f"{met_where.strip()}; entered by {who.by}."
    )
    return write(who, "give_back_do_not_operate", words, do_not_operate=row.pk)
