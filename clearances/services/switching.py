"""Giving steps one at a time, from a checked order, and what becomes of the order itself."""

from django.utils import timezone

from circuits import positions, snapshot
from circuits.models import Device, Premises

from .. import at_device, blows, effects, facts, pickups, protections, rollcall
from ..beside import Beside
from ..models import Clearance, Job, Role, Step, SwitchingOrder
from ..rules import facts as values
from ..rules.clauses import ALL_OPENED, PICTURE
from ..rules.refusal import Refusal
from ..rules.steps import as_it_stands, may_give_step
from ..rules.words import letters, step_words
from .verb import Outcome, Refused, Stale, Who, lock_clearance, touch, verb, write


def where(device: Device) -> str:
    """Pole and street, because a device number alone is how the wrong one gets operated; at a house its
    address, which is what stands there to be read."""
    structure = device.structure
    if structure is None:
        return "no pole on record"
    number = structure.label or structure.pk
    return number if structure.street in number else f"{number}, {structure.street}"


def words_of(step: Step, open_now: str = "") -> str:
    """The step in full words; with where its device stands now, as it is given now."""
    closing = step.operation == Step.Operation.CLOSE
    left_off = Beside.read().reclosing_stays_off(step.device_id) if closing else ""
    words = step_words(
        operation=as_it_stands(step.operation, step.phases, open_now),
        device=step.device_id,
        kind=step.device.kind,
        phases=step.phases,
        where=where(step.device),
        tag=step.tag_number,
    )
    return f"{words}; {left_off}" if left_off else words


def find_step(pk: int) -> tuple[Clearance, Step]:
    """The step and its clearance, locked in that order everywhere: clearance, then device (by the trigger),
    then step.
    """
    number = Step.objects.values_list("order", flat=True).get(pk=pk)
    clearance = lock_clearance(number)
    return clearance, Step.objects.select_related("device__structure", "point", "order").get(pk=pk)


def against_giving(
    known: values.Clearance,
    step: Step,
    open_now: str,
    *,
    out_there: tuple[values.StepOut, ...] = (),
    uncounted: tuple[str, ...] = (),
) -> tuple[Refusal, ...]:
    """Why a step of the clearance in `known` could not be given as things stand, `open_now` being the phases
    of its device that stand open; the pages ask it before anybody tries. The rest is as `may_give_step` has
    it. Cost: for a close some traces.
    """
    device, phases = step.device_id, step.phases
    closing, opens = (step.operation == one for one in (Step.Operation.CLOSE, Step.Operation.OPEN))
    opening = at_device.there(snapshot.compiled(), device, phases) if opens else ""
    refusals = may_give_step(
        known,
        next(one for one in known.steps if (one.half, one.place) == (step.half, step.place)),
        tags_at_device=at_device.tags_at(device),
        open_now=open_now,
        held_by=at_device.holders_at(device),
        out_there=out_there,
        uncounted=uncounted,
        beside=protections.at_device(device, opening=opening),
        silent=rollcall.silent(step) if closing else (),
        joins=at_device.joins_of_closing(device, phases) if closing else (),
        hits=at_device.hits_of_closing(device, phases) if closing else (),
        feeds=pickups.fed_by(device, but=step.order_id) if opens and step.point is None else (),
    )
    return refusals + blows.against_closing(device) if closing else refusals


@verb(Role.OPERATOR)
def give_step(who: Who, *, step: int, version: int, given_to: str, repeated_back: bool) -> Outcome:
    """Order one step by voice; it counts as given when the person who got it has repeated it back."""
    clearance, row = find_step(step)
    stands_open = positions.open_phases().get(row.device_id, "")
    refusals = against_giving(
        facts.facts_of(clearance, trace_paths=False),
        row,
        stands_open,
        out_there=at_device.steps_out_at(row.device_id, but=clearance.pk),
        uncounted=_uncounted(clearance, row),
    )
    if not repeated_back:
        text = f"{given_to} has not repeated the step back."
        refusals += (
            Refusal(
                "no_repeat_back",
                given_to,
                text,
                PICTURE,
                "Hear it repeated back, say that it is correct, then give it.",
            ),
        )
    if refusals:
        return Refused(refusals)
    if isinstance(problem := touch(clearance, expected=version), Stale):
        return problem
    now = timezone.now()
    given = Step.objects.filter(pk=row.pk, state=Step.State.WAITING).update(
        state=Step.State.GIVEN, given_at=now, given_by=who.actor, given_to=given_to
    )
    if not given:
        return Stale(f"Step {row.place} is {row.state}, not waiting.")
    words = f"Step {row.place} given to {given_to}, repeated back: {words_of(row, stands_open)}."
    return write(who, "give_step", words, clearance=clearance, ordered_at=now, step=row.pk)


def _uncounted(clearance: Clearance, step: Step) -> tuple[str, ...]:
    """Addresses that an opening takes out and that were not counted with the checked order."""
    if step.operation != Step.Operation.OPEN:
        return ()
    counted = set(clearance.affected.values_list("premises_id", flat=True))
    lost = set(effects.newly_without({step.device_id: step.phases})) - counted
    return tuple(Premises.objects.filter(pk__in=lost).order_by("address").values_list("address", flat=True))


def nothing_of_it_stands(step: Step, open_now: str) -> bool:
    """Whether nothing was reported of a step; or, of a close, nothing stands any more: a phase was stuck, and
    those that had closed were opened again.
    """
    closing = step.operation == Step.Operation.CLOSE
    return not step.reported_phases or (closing and set(step.phases) <= set(open_now))


@verb(Role.OPERATOR)
def call_step_back(who: Who, *, step: int, version: int, why: str) -> Outcome:
    """Take a given step back before anything was operated, or once what was closed stands open again."""
    clearance, row = find_step(step)
    if isinstance(problem := touch(clearance, expected=version), Stale):
        return problem
    given = Step.objects.filter(pk=row.pk, state=Step.State.GIVEN)
    if not nothing_of_it_stands(row, positions.open_phases().get(row.device_id, "")) or not given.update(
        state=Step.State.WAITING, given_at=None, given_by=None, given_to="", reported_phases=""
    ):
        return Stale(
            f"Step {row.place} can't be called back: it is {row.state}, reported "
            f"{row.reported_phases or 'nothing'}."
        )
    return write(
        who, "call_step_back", f"Step {row.place} called back: {why}.", clearance=clearance, step=row.pk
    )


def finish_if_done(clearance: Clearance) -> None:
    """When the last step of the restore half is in, the order is finished, and perhaps the job."""
    steps = Step.objects.filter(order__clearance=clearance)
    if clearance.state not in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN):
        return
    if steps.filter(state__in=[Step.State.WAITING, Step.State.GIVEN]).exists():
        return
    SwitchingOrder.objects.filter(clearance=clearance, state="checked").update(state="finished")
    end_job_if_over(clearance.job_id)


def end_job_if_over(job: int, why: str = "") -> None:
    """A job whose stages are all released or called off, with no order under way, is finished; cancelled if
    none of them came to be released.
    """
    stages = Clearance.objects.filter(job=job)
    under_way = SwitchingOrder.objects.filter(clearance__job=job, state__in=facts.UNDER_WAY)
    if under_way.exists() or stages.exclude(state__in=["released", "withdrawn"]).exists():
        return
    active = Job.objects.filter(pk=job, state=Job.State.ACTIVE)
    if stages.filter(state=Clearance.State.RELEASED).exists():
        active.update(state=Job.State.FINISHED)
    else:
        active.update(state=Job.State.CANCELLED, cancelled_why=why)


@verb(Role.OPERATOR)
def resume_order(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Go on with a paused order: the operator has looked at what stopped it and says why it still follows."""
    row = lock_clearance(clearance)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    if not SwitchingOrder.objects.filter(clearance=row, state="paused").update(
        state="checked", paused_why=""
    ):
        text = f"Order {row.pk} is not paused."
        return Refused(
            (Refusal("not_paused", str(row), text, ALL_OPENED, "Look at the order as it stands."),)
        )
    finish_if_done(row)
    return write(who, "resume_order", f"Order {row.pk} goes on: {why}.", clearance=row)


def may_be_left_out(step: Step) -> bool:
    """A close, or the opening of a tie on the way back."""
    gives_back = step.half == Step.Half.RESTORE and step.point is None
    return step.operation == Step.Operation.CLOSE or gives_back


@verb(Role.OPERATOR)
def leave_step_out(who: Who, *, step: int, version: int, why: str) -> Outcome:
    """Leave a close out: the device stays open, and the rest of the order can go on. Or the opening of a tie
    on the way back: it stays closed for another clearance, whose order opens it.

    For a point that another clearance holds: its own order closes it when its time has come. For a tie that
    can't be closed: what it was to pick up stays out, as was counted, or no further opening is given.
    """
    clearance, row = find_step(step)
    if not may_be_left_out(row):
        text = f"Step {row.place} is no close."
        return Refused(
            (Refusal("not_a_close", row.device_id, text, PICTURE, "Give it, and have it reported."),)
        )
    if isinstance(problem := touch(clearance, expected=version), Stale):
        return problem
    if not Step.objects.filter(pk=row.pk, state=Step.State.WAITING).update(state=Step.State.LEFT_OUT):
        return Stale(f"Step {row.place} is {row.state}, not waiting.")
    finish_if_done(clearance)
    stays = "open" if row.operation == Step.Operation.CLOSE else "closed"
    words = f"Step {row.place} left out: {row.device_id} {letters(row.phases)} stays {stays}: {why}."
    return write(who, "leave_step_out", words, clearance=clearance, step=row.pk)
