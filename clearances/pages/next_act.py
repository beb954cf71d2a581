"""What can be done with a clearance now, the act that is expected next first, and what would refuse it.

The refusals come from the pure rules that decide when it is done, so the page says what the board will say.
"""

from .. import holders, rollcall
from ..facts import OVER
from ..models import Clearance, Step, SwitchingOrder
from ..rules.giving import may_give, may_work_again
from ..rules.orders import may_check
from ..rules.refusal import Refusal
from ..services.orders import faults_of
from ..services.switching import against_giving, may_be_left_out, nothing_of_it_stands
from .field import otherwise
from .one import One
from .picture import Row, to_page

Refusals = tuple[Refusal, ...]


def on_the_desk(one: One) -> tuple[list[Row], Refusals]:
    """The acts for the desk's page, the expected one first, and what stands against that one."""
    row = one.clearance
    if row.state == Clearance.State.ASKED:
        acts, refusals = _plan(one) if one.plan else _order(one)
    elif row.state == Clearance.State.GIVEN:
        acts = [_act(one, "accept_clearance"), _act(one, "take_clearance_back")]
        refusals = ()
    elif row.state == Clearance.State.FROZEN:
        acts = [_act(one, "end_freeze"), *(_act(one, name) for name in _line(one))]
        refusals = may_work_again(one.known)
    elif row.state == Clearance.State.ACCEPTED:
        acts, refusals = [_act(one, name) for name in _line(one)], ()
    else:
        acts, refusals = _order(one)
    if row.state not in OVER:
        acts += [_act(one, "move_promised_end"), _act(one, "ask_for_next_stage")]
    if row.state == Clearance.State.ASKED:
        if row.holder.contractor and one.plan:
            acts.append(_act(one, "record_exchange"))
        acts.append(_act(one, "call_off_job"))
    acts.append(_act(one, "remark"))
    return one.acts(*acts), refusals


def _act(one: One, name: str, label: str = "", **params: object) -> Row | None:
    return one.act(name, label, clearance=one.clearance.pk, **params)


def _plan(one: One) -> tuple[list[Row | None], Refusals]:
    """Before the first step: points, order, check, customers. Nothing here operates anything."""
    row, order = one.clearance, one.order
    network = one.compiled.network
    sources = [
        _act(one, "agree_on_source", f"Decide on {path.source_id}", source=path.source_id)
        for path in one.live
        if one.standing and not network.source[path.source_id].is_station
    ]
    if order is None:
        names = ("write_order", "choose_points") if one.standing else ("choose_points",)
        plans = to_page("Look at plans", "plans", row.pk)
        return [*(_act(one, name) for name in names), plans, *sources], ()
    if order.state == "draft":
        (check, *_), refusals = _check(one, order)
        rest = [_act(one, name) for name in ("choose_points", "write_order")]
        return [check, *sources, *rest], refusals
    if order.state == "paused":
        return [_act(one, "resume_order")], ()
    untold = any(premises.told == 0 for premises in row.affected.all())
    desk = to_page("To the desk, where the first step is given", "board")
    back = _act(one, "take_check_back")
    if untold:
        return [_act(one, "tell_customers"), desk, back], ()
    first = next_step(one)
    return [desk, back], refused_step(one, first) if first else ()


def _check(one: One, order: SwitchingOrder) -> tuple[list[Row | None], Refusals]:
    """A draft, or a way back that was written again: a second person checks it."""
    refusals = may_check(
        writer=str(order.rewritten_by or order.written_by),
        checker=str(one.person),
        same_person=one.person.pk in (order.written_by_id, order.rewritten_by_id),
        state=order.state,
    )
    return [_act(one, "check_order")], refusals or faults_of(one.clearance)


def _order(one: One) -> tuple[list[Row | None], Refusals]:
    """An order under way: report the step that is out, else give the next, else give the clearance."""
    order = one.order
    if order is None:
        return [], ()
    if order.state == "paused":
        return [_act(one, "resume_order")], ()
    if order.state == "draft":
        return _check(one, order)
    out = next((step for step in one.steps if step.state == Step.State.GIVEN), None)
    if out:
        still = nothing_of_it_stands(out, one.open_now.get(out.device_id, ""))
        call_back = one.act("call_step_back", step=out.pk) if still else None
        report = one.act("report_step", f"Report step {out.place}", step=out.pk)
        return [report, call_back, *otherwise(one, out)], ()
    if step := next_step(one):
        acts = [one.act("give_step", f"Give step {step.place}", step=step.pk)]
        if one.clearance.state == Clearance.State.ASKED:
            acts.append(_act(one, "give_clearance"))  # it is refused, and the refusal names the ways left
        else:
            acts.append(_act(one, "write_way_back"))
        refusals = refused_step(one, step)
        if may_be_left_out(step) and (refusals or step.point is None):
            acts.append(one.act("leave_step_out", f"Leave step {step.place} out", step=step.pk))
        if any(refusal.code == "holder_silent" for refusal in refusals):
            asked = [
                one.act("answer_roll_call", f"Enter the answer of {call.clearance.holder}", call=call.pk)
                for call in rollcall.unanswered(step)
            ]
            acts = [one.act("call_roll", step=step.pk), *asked, *acts]
        return acts, refusals
    if one.clearance.state == Clearance.State.ASKED:
        refusals = may_give(one.known) + holders.against_giving(one.clearance)
        untold = any(refusal.code == "not_exchanged" for refusal in refusals)
        return [_act(one, "record_exchange") if untold else None, _act(one, "give_clearance")], refusals
    return [], ()


def next_step(one: One) -> Step | None:
    """The next step to be given in the half whose turn it is."""
    half = Step.Half.RESTORE if one.clearance.state in OVER else Step.Half.ISOLATE
    return next((step for step in one.steps if step.half == half and step.state == Step.State.WAITING), None)


def refused_step(one: One, step: Step) -> Refusals:
    """Why a step could not be given now."""
    return against_giving(one.known, step, one.open_now.get(step.device_id, ""))


def on_a_step(one: One, step: Step) -> list[Row]:
    """What can be done with a step in its row of the order. A plan has no order to give."""
    if one.order and one.order.state == SwitchingOrder.State.DRAFT and step.state == Step.State.WAITING:
        mine = (one.order.rewritten_by or one.order.written_by) == one.person
        return one.acts(one.act("move_step", f"Move\u00a0{step.place}", step=step.pk) if mine else None)
    if one.plan or step.state in (Step.State.REPORTED, Step.State.LEFT_OUT):
        return []
    if step.state == Step.State.GIVEN:
        return one.acts(one.act("report_step", f"Report step {step.place}", step=step.pk))
    if step == next_step(one) and not any(other.state == Step.State.GIVEN for other in one.steps):
        return one.acts(one.act("give_step", f"Give step {step.place}", step=step.pk))
    return []


def _line(one: One) -> list[str]:
    """What is reported from the line, the expected first."""
    every = ["report_test", "ground_on", "sign_on", "ground_off", "sign_off", "release_clearance"]
    expected = expected_on_the_line(one)
    on_now = any(ground.off_at is None for ground in one.clearance.ground_sets.all())
    people = any(signed.off_at is None for signed in one.clearance.sign_ons.all())
    possible = [name for name in every if (name != "ground_off" or on_now) and (name != "sign_off" or people)]
    if on_now:
        possible.append("ground_never_on")
    return sorted(possible, key=lambda name: name != expected)


def expected_on_the_line(one: One) -> str:
    """The one act that comes next under an accepted clearance: test, grounds, people; then all of them off
    again, and the release."""
    row = one.clearance
    grounds, people = list(row.ground_sets.all()), list(row.sign_ons.all())
    if one.untested or not one.tested:
        return "report_test"
    if not grounds:
        return "ground_on"
    if not people:
        return "sign_on"
    if any(ground.off_at is None for ground in grounds):
        return "ground_off"
    if any(signed.off_at is None for signed in people):
        return "sign_off"
    return "release_clearance"
