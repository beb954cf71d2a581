"""Writing the order with both halves, putting its steps into another turn, and a second person's check."""

from collections.abc import Iterator, Mapping, Sequence

from django.db.models import Case, When
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.values import normally_open
from circuits.locks import one_after_the_other
from circuits.models import Premises

from .. import facts, notices, pickups, promises
from ..models import AffectedPremises, Clearance, IsolationPoint, Role, Step, SwitchingOrder
from ..rules.clauses import IN_ORDER
from ..rules.orders import may_check, may_move_step, order_faults
from ..rules.refusal import Refusal
from ..rules.words import in_order, letters
from . import way_back
from .planning import not_plannable, planned_block
from .switching import find_step
from .verb import Outcome, Refused, Stale, Who, lock_clearance, lock_with_told, touch, verb, write
from .way_back import Turn

_LOCK = 0x746965  # "tie"


@verb(Role.OPERATOR)
def write_order(who: Who, *, clearance: int, version: int) -> Outcome:
    """Write both halves from the points and what picks load up, on the positions as they stand: open or check
    open and tag; then back in reverse.
    """
    row = lock_clearance(clearance)
    if refusals := not_plannable(row):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    SwitchingOrder.objects.filter(clearance=row).delete()
    order = SwitchingOrder.objects.create(
        clearance=row,
        written_by=who.actor,
        written_at=timezone.now(),
        network_revision=snapshot.compiled().network.revision,
    )
    steps = [turn.step(order, half, place) for place, (half, turn) in enumerate(_written(row), start=1)]
    Step.objects.bulk_create(steps)
    isolate = sum(step.half == Step.Half.ISOLATE for step in steps)
    words = (
        f"{who.actor} writes order {row.pk}: {isolate} steps to isolate, {len(steps) - isolate} to restore."
    )
    return write(who, "write_order", words, clearance=row)


def _written(clearance: Clearance) -> Iterator[tuple[str, Turn]]:
    """Both halves, step by step. A tie is closed before the points are opened where it may be, so that nobody
    is out for it, else after them; whatever else is moved lies between. The way back is the same from its
    end.
    """
    open_now = positions.open_phases()
    keep = way_back.stay_open(clearance)
    points = _opened_in_turn(list(clearance.points.select_related("device")))
    there = [turn for point in points for turn in _opening(point, set(open_now.get(point.device_id, "")))]
    back = [
        turn
        for point in way_back.in_turn(points)
        for turn in (
            Turn("remove_tag", point.device_id, point.phases, point),
            Turn("close", point.device_id, _but(point.phases, keep.get(point.device_id, "")), point),
        )
    ]
    moves = _moves(clearance, open_now)
    # To where they stand normally: a tie that another job has closed by now is there for both.
    given_back = way_back.undone(_moves(clearance, normally_open(snapshot.compiled().network)))
    ties = {move.device: move.phases for move in moves if move.operation == "close"}
    if pickups.made_before_broken(ties):
        there, back = moves + there, back + given_back
    else:
        there, back = there + moves[::-1], given_back[::-1] + back
    yield from ((Step.Half.ISOLATE, turn) for turn in there if turn.phases)
    yield from ((Step.Half.RESTORE, turn) for turn in back if turn.phases)


def _opening(point: IsolationPoint, stands_open: set[str]) -> tuple[Turn, Turn]:
    checked = in_order(stands_open & set(point.phases))
    return (
        Turn("check_open", point.device_id, checked, point),
        Turn("open", point.device_id, _but(point.phases, checked), point),
    )


def _moves(clearance: Clearance, open_now: Mapping[str, str]) -> list[Turn]:
    """What is moved besides the points, ties first."""
    moves = []
    for row in clearance.pick_ups.select_related("device").order_by("-closes", "pk"):
        has, stands_open = row.device.phases, open_now.get(row.device_id, "")
        shut = _but(has, stands_open)
        phases, operation = (_but(has, shut), "close") if row.closes else (shut, "open")
        moves.append(Turn(operation, row.device_id, phases))
    return moves


def _but(phases: str, these: str) -> str:
    return in_order(set(phases) - set(these))


def _opened_in_turn(points: Sequence[IsolationPoint]) -> list[IsolationPoint]:
    """The points in the order in which they are opened: the utility's own, what is on record as fit to break
    load before what is not, so that it breaks it; then the disconnects of customers' machines; else as they
    were chosen (common practice).
    """
    own = way_back.customers_own()

    def turn(point: IsolationPoint) -> tuple[bool, bool, int]:
        return point.device_id in own, point.device.load_break_a is None, point.place

    return sorted(points, key=turn)


def faults_of(clearance: Clearance) -> tuple[Refusal, ...]:
    """Why the order as written may not be checked, on the network and the positions of now."""
    asked = clearance.state == Clearance.State.ASKED
    return order_faults(
        facts.facts_of(clearance, trace_paths=False),
        open_now=positions.open_phases(),
        stay_open=way_back.stay_open(clearance),
        planned_paths=facts.paths(clearance, planned_block(clearance)) if asked else (),
        joins=pickups.joined_in_turn(clearance),
        meets=pickups.meeting(clearance) if asked else (),
    )


@verb(Role.CHECKER, Role.OPERATOR)
def check_order(who: Who, *, clearance: int, version: int) -> Outcome:
    """A second person checks the order; the customers that it takes out are counted and kept with it, and
    whoever was told an hour at which it keeps them out as well is told again. A way back that was written
    again is checked by itself.
    """
    row = lock_with_told(clearance)
    order = SwitchingOrder.objects.filter(clearance=row).select_related("written_by", "rewritten_by").first()
    if order is None:
        text = f"No order is written for clearance {row.pk}."
        return Refused((Refusal("no_order", str(row), text, IN_ORDER, "Write the order first."),))
    refusals = may_check(
        writer=str(order.rewritten_by or order.written_by),
        checker=str(who.actor),
        same_person=not {order.written_by_id, order.rewritten_by_id}.isdisjoint({who.actor.pk, who.by.pk}),
        state=order.state,
    )
    one_after_the_other(_LOCK)  # of two orders that move one tie the second sees the first
    if refusals := refusals or faults_of(row):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    words = f"{who.actor} checks the way back of order {row.pk}."
    out: list[str] = []
    if row.state == Clearance.State.ASKED:
        out = _count(row)
        words = f"{who.actor} checks order {row.pk}: {len(out)} customers will be out."
    SwitchingOrder.objects.filter(pk=order.pk).update(
        state="checked", checked_by=who.actor, checked_at=timezone.now()
    )
    if row.state == Clearance.State.ASKED:
        words += promises.renew()
    return write(who, "check_order", words, clearance=row, customers=out)


def _count(clearance: Clearance) -> list[str]:
    """Keep with the order whom it takes out; who was counted before and is not any more is told so."""
    out = pickups.kept_out(clearance)
    spared = clearance.affected.exclude(premises__in=out)
    notices.tell_spared(clearance, list(spared.exclude(told=0).values_list("premises_id", flat=True)))
    spared.delete()
    cares = dict(Premises.objects.filter(pk__in=out).values_list("pk", "care"))
    for briefly in (False, True):  # who is counted otherwise than before is told again, as by another hour
        those = [one for one in out if out[one] is briefly]
        otherwise = clearance.affected.filter(premises__in=those, briefly=not briefly)
        otherwise.update(briefly=briefly, back_by=None)
    AffectedPremises.objects.bulk_create(
        (
            AffectedPremises(clearance=clearance, premises_id=one, care=cares[one], briefly=briefly)
            for one, briefly in out.items()
        ),
        ignore_conflicts=True,
    )
    return list(out)


@verb(Role.OPERATOR)
def move_step(who: Who, *, step: int, version: int, before: int) -> Outcome:
    """Put a step of a draft before another one of its half, by that one's place; 0 puts it last."""
    clearance, row = find_step(step)
    order = SwitchingOrder.objects.select_related("written_by", "rewritten_by").get(pk=clearance.pk)
    writer = order.rewritten_by or order.written_by
    if refusals := may_move_step(
        writer=str(writer), mover=str(who.actor), same_person=writer.pk == who.actor.pk, state=order.state
    ):
        return Refused(refusals)
    half = Step.objects.filter(order=order, half=row.half, state=Step.State.WAITING).order_by("place")
    others = [one for one in half if one.pk != row.pk]
    at = next((number for number, one in enumerate(others) if one.place == before), None)
    if row.state != Step.State.WAITING or (before and at is None):
        text = f"Steps {row.place} and {before} don't both wait in one half of order {order.pk}."
        return Refused((Refusal("no_such_step", row.device_id, text, IN_ORDER, "Look at the order."),))
    if isinstance(problem := touch(clearance, expected=version), Stale):
        return problem
    turned = [*others[:at], row, *others[at:]] if at is not None else [*others, row]
    places = [one.place for one in half]
    new = Case(*(When(pk=one.pk, then=place) for one, place in zip(turned, places, strict=True)))
    half.update(place=new)
    words = (
        f"{who.actor} puts {row.device_id} {letters(row.phases)} ({row.get_operation_display()}) in place "
        f"{places[turned.index(row)]} of order {order.pk}."
    )
    return write(who, "move_step", words, clearance=clearance, step=row.pk)


@verb(Role.CHECKER, Role.OPERATOR)
def take_check_back(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Make a checked order a draft again, as long as no step of it has been given."""
    row = lock_clearance(clearance)
    begun = (
        Step.objects.filter(order__clearance=row).exclude(state="waiting").order_by("half", "place").first()
    )
    if begun:
        text = (
            f"Step {begun.place} of order {row.pk} ({begun.device_id} {letters(begun.phases)}) is "
            f"already {begun.state}."
        )
        way = "Call the job off and restore, or go on."
        return Refused((Refusal("order_begun", str(row), text, IN_ORDER, way),))
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    checked = SwitchingOrder.objects.filter(clearance=row, state="checked")
    if not checked.update(state="draft", checked_by=None, checked_at=None):
        text = f"Order {row.pk} is not checked, so there is no check to take back."
        way = "Look at the order as it stands; a paused one goes on first."
        return Refused((Refusal("order_not_checked", str(row), text, IN_ORDER, way),))
    return write(
        who, "take_check_back", f"{who.actor} takes the check of order {row.pk} back: {why}.", clearance=row
    )
