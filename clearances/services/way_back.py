"""The half of an order that puts the points back: in which turn, what stays open, and writing it again on the
network as it was left.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import Max
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.values import normally_open
from circuits.models import Source

from .. import facts
from ..models import Clearance, IsolationPoint, Role, Step, SwitchingOrder
from ..rules.clauses import IN_ORDER, ONE_STEP
from ..rules.refusal import Refusal
from ..rules.words import in_order
from .verb import Outcome, Refused, Stale, Who, lock_clearance, touch, verb, write


def in_turn(points: Sequence[IsolationPoint]) -> list[IsolationPoint]:
    """The points in the order in which they go back: the utility's own, what is on record as fit to break
    load after what is not, so that it picks the load up, else last opened first; then the disconnects of
    customers' machines, so that no machine meets a line that the utility does not feed (common practice).
    """
    own = customers_own()

    def turn(point: IsolationPoint) -> tuple[bool, bool, int]:
        return point.device_id in own, point.device.load_break_a is not None, -point.place

    return sorted(points, key=turn)


def customers_own() -> set[str]:
    """The disconnects of customers' machines."""
    rows = Source.objects.exclude(kind="station").exclude(device=None)
    return set(rows.values_list("device", flat=True))


@dataclass(frozen=True, slots=True)
class Turn:
    """A step to be: what is done at a device, on which phases; `point` is None where load is picked up or
    given back."""

    operation: str
    device: str
    phases: str
    point: IsolationPoint | None = None

    def step(self, order: SwitchingOrder, half: str, place: int) -> Step:
        return Step(
            order=order,
            half=half,
            place=place,
            operation=self.operation,
            device_id=self.device,
            phases=self.phases,
            point=self.point,
        )


def undone(moves: Iterable[Turn]) -> list[Turn]:
    """Each of these the other way round, the last one first."""
    other = {"close": "open", "open": "close"}
    return [replace(move, operation=other[move.operation]) for move in reversed(list(moves))]


def stay_open(clearance: Clearance) -> dict[str, str]:
    """Phases of this clearance's points that its restore half must leave open: normally open, or held open by
    another clearance.
    """
    keep: dict[str, str] = {}
    for point in clearance.points.select_related("device"):
        device = point.device
        normal = device.normal_position
        open_normally = {"open": device.phases, "closed": ""}.get(
            normal, in_order(set(device.phases) - set(normal))
        )
        held = "".join(
            facts.live_tags()
            .filter(device=device)
            .exclude(clearance=clearance)
            .values_list("phases", flat=True)
        )
        if phases := in_order(set(point.phases) & set(open_normally + held)):
            keep[device.id] = phases
    return keep


@verb(Role.OPERATOR)
def write_way_back(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Write what is left of the restore half again, on the network and the positions as they are now.

    A second person checks it before a step of it is given. What was already reported of it stands.
    """
    row = lock_clearance(clearance)
    order = SwitchingOrder.objects.filter(clearance=row).first()
    if refusals := _may_not(row, order):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version), Stale):
        return problem
    now = timezone.now()
    SwitchingOrder.objects.filter(clearance=row, state="checked").update(
        state="draft",
        checked_by=None,
        checked_at=None,
        rewritten_by=who.actor,
        rewritten_at=now,
        network_revision=snapshot.compiled().network.revision,
    )
    steps = Step.objects.filter(order=row.pk)
    steps.filter(half=Step.Half.RESTORE, state=Step.State.WAITING).update(state=Step.State.LEFT_OUT)
    last = steps.aggregate(last=Max("place"))["last"] or 0
    left = [turn.step(row.order, Step.Half.RESTORE, at) for at, turn in enumerate(_left(row), start=last + 1)]
    Step.objects.bulk_create(left)
    words = f"{who.actor} writes the way back of order {row.pk} again: {len(left)} steps. {why}."
    return write(who, "write_way_back", words, clearance=row)


def _may_not(clearance: Clearance, order: SwitchingOrder | None) -> tuple[Refusal, ...]:
    over = clearance.state in (*facts.OVER, Clearance.State.ACCEPTED, Clearance.State.FROZEN)
    if order is None or order.state != "checked" or not over:
        state = order.state if order else "not written"
        text = f"Order {clearance.pk} is {state}, clearance {clearance.pk} {clearance.state}."
        way = "Before the clearance is accepted the whole order is written again; a paused one goes on first."
        return (Refusal("no_way_back_yet", str(clearance), text, IN_ORDER, way),)
    if step := order.steps.filter(state=Step.State.GIVEN).first():
        text = f"Step {step.place} ({step.device_id} {step.phases}) is given and not yet reported."
        way = "Have it reported, or call it back before anything is operated."
        return (Refusal("step_unreported", step.device_id, text, ONE_STEP, way),)
    return ()


def _left(clearance: Clearance) -> list[Turn]:
    """What is still to be done, in its turn: what was moved before the points were opened is moved back after
    them, all else before them."""
    open_now, keep = positions.open_phases(), stay_open(clearance)
    tagged = set(facts.live_tags().filter(clearance=clearance).values_list("point", flat=True))
    points = []
    for point in in_turn(list(clearance.points.select_related("device"))):
        phases = phases_of(point)
        if point.pk in tagged:
            points.append(Turn("remove_tag", point.device_id, phases, point))
        closes = set(phases) & set(open_now.get(point.device_id, "")) - set(keep.get(point.device_id, ""))
        if closes:
            points.append(Turn("close", point.device_id, in_order(closes), point))
    early: list[Turn] = []
    late: list[Turn] = []
    moves = early
    for step in Step.objects.filter(order=clearance.pk, half=Step.Half.ISOLATE).order_by("place"):
        if step.point_id:
            moves = late
        elif (move := _still_moved(step, open_now)).phases:
            moves.append(move)
    return undone(late) + points + undone(early)


def _still_moved(step: Step, open_now: Mapping[str, str]) -> Turn:
    """A step that picked load up, on the phases on which its device stands otherwise than normally."""
    normal = normally_open(snapshot.compiled().network).get(step.device_id, "")
    phases = set(normal) ^ set(open_now.get(step.device_id, ""))
    return Turn(step.operation, step.device_id, in_order(phases & set(step.device.phases)))


def phases_of(point: IsolationPoint) -> str:
    """The phases of a point, by the letters that its device has now: they change when a line tap moves."""
    own = point.device.phases
    return point.phases if set(point.phases) <= set(own) else own
