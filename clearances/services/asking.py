"""Asking for a clearance, and calling the job off."""

import datetime
from collections.abc import Iterable

from django.utils import timezone

from circuits import snapshot
from circuits.core import limits as core_limits

from .. import facts, notices
from ..models import Clearance, Job, Limit, Person, Role, Step, SwitchingOrder
from ..rules.asking import may_ask
from ..rules.clauses import BRIEFED, IN_ORDER, ONE_IN_CHARGE
from ..rules.refusal import Refusal
from ..rules.words import letters
from .verb import Outcome, Refused, Stale, Who, lock_clearance, touch, verb, write


def limits_words(from_pole: str, to_pole: str, phases: str) -> str:
    run = f"at {from_pole}" if from_pole == to_pole else f"{from_pole} to {to_pole}"
    return f"Primary {run}, phases {letters(phases)}. Not the neutral, not the secondaries."


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def ask_for_clearance(
    who: Who,
    *,
    from_pole: str,
    to_pole: str,
    phases: str,
    work: str,
    reason_for_customers: str,
    crew: str,
    window_start: datetime.datetime,
    promised_end: datetime.datetime,
    latest_finish: datetime.datetime,
    recall_minutes: int,
    alternate: Person | None = None,
) -> Outcome:
    """The holder-to-be asks for exact limits; they are stored as nodes and lines by phase, and the words are
    made from them.
    """
    holder = who.actor
    refusals = may_ask(
        holder=str(holder),
        qualified=holder.may_hold_on(timezone.localdate(window_start)),
        window_start=window_start,
        promised_end=promised_end,
        latest_finish=latest_finish,
        now=timezone.now(),
    )
    try:
        inside = core_limits.between(snapshot.compiled(), from_pole, to_pole, phases)
    except core_limits.NoSuchLimits as error:
        refusals += (
            Refusal(
                "limits", f"{from_pole} {to_pole}", str(error), BRIEFED, "Name the poles and phases again."
            ),
        )
    if refusals:
        return Refused(refusals)
    job = Job.objects.create(work=work, reason_for_customers=reason_for_customers, requested_by=holder)
    clearance = Clearance.objects.create(
        job=job,
        holder=holder,
        alternate=alternate,
        crew=crew,
        limits_words=limits_words(from_pole, to_pole, phases),
        window_start=window_start,
        promised_end=promised_end,
        latest_finish=latest_finish,
        recall_minutes=recall_minutes,
    )
    Limit.objects.bulk_create(
        [Limit(clearance=clearance, node_id=node, phases=some) for node, some in inside.nodes]
        + [Limit(clearance=clearance, line_id=line, phases=some) for line, some in inside.lines]
    )
    return write(
        who,
        "ask_for_clearance",
        f"{holder} asks for clearance {clearance.pk}: {clearance.limits_words} {work}, "
        f"{timezone.localtime(window_start):%d %b %H:%M} to {timezone.localtime(promised_end):%H:%M}.",
        clearance=clearance,
        nodes=inside.nodes,
        lines=inside.lines,
    )


def _refuse_call_off(clearance: Clearance, given: Iterable[Step]) -> tuple[Refusal, ...]:
    if clearance.state != Clearance.State.ASKED:
        return (
            Refusal(
                "clearance_out",
                str(clearance),
                f"Clearance {clearance.pk} is {clearance.state}: it is released by its holder, then "
                "restored.",
                IN_ORDER,
                f"{clearance.holder} releases it.",
            ),
        )
    return tuple(
        Refusal(
            "step_unreported",
            step.device_id,
            f"Step {step.place} ({step.device_id}) is given and not yet reported.",
            IN_ORDER,
            "Have it reported first.",
        )
        for step in given
    )


@verb(Role.OPERATOR)
def call_off_job(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Call a job off before its clearance is given. What was already opened has to be restored, step by step:
    the rest is left out.
    """
    row = lock_clearance(clearance)
    steps = Step.objects.filter(order__clearance=row)
    if refusals := _refuse_call_off(row, steps.filter(state=Step.State.GIVEN)):
        return Refused(refusals)
    if isinstance(problem := touch(row, expected=version, state=Clearance.State.WITHDRAWN), Stale):
        return problem
    begun = set(
        steps.filter(half=Step.Half.ISOLATE).exclude(reported_phases="").values_list("point", flat=True)
    )
    begun |= set(facts.live_tags().filter(clearance=row).values_list("point", flat=True))
    steps.filter(state=Step.State.WAITING).exclude(half=Step.Half.RESTORE, point__in=begun).update(
        state=Step.State.LEFT_OUT
    )
    if not begun:
        under_way = SwitchingOrder.objects.filter(clearance=row, state__in=["draft", "checked", "paused"])
        under_way.update(state="withdrawn", paused_why="")
        Job.objects.filter(pk=row.job_id).update(state=Job.State.CANCELLED, cancelled_why=why)
    if row.telling:
        notices.tell_cancelled(
            row, row.affected.exclude(told=0).values_list("premises_id", flat=True), why=why
        )
    rest = f" {len(begun)} points are to be restored." if begun else ""
    return write(
        who,
        "call_off_job",
        f"{who.actor} calls off job {row.job_id} (clearance {row.pk}): {why}.{rest}",
        clearance=row,
    )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def move_promised_end(who: Who, *, clearance: int, promised_end: datetime.datetime, why: str) -> Outcome:
    """The holder (or the desk for them) says when it will be done; customers who were told are told again.

    A later end asks the life-support premises again: their plan was made for the old one.
    """
    row = lock_clearance(clearance)
    if who.actor.pk != row.holder_id and not who.by.has_role(Role.OPERATOR):
        text = f"Clearance {row.pk} is {row.holder}'s."
        way = f"{row.holder} or the desk moves it."
        return Refused((Refusal("not_the_holder", str(row), text, ONE_IN_CHARGE, way),))
    if row.state in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN):
        text = f"Clearance {row.pk} is {row.state}: there is no end to move."
        return Refused((Refusal("clearance_over", str(row), text, IN_ORDER, "Look at it as it stands."),))
    if promised_end <= max(row.window_start, timezone.now()):
        return Refused(
            (
                Refusal(
                    "window_out_of_order",
                    str(row),
                    "The new end lies before the start or is already past.",
                    BRIEFED,
                    "Correct the time.",
                ),
            )
        )
    told = row.affected.exclude(told=0)
    later = promised_end > row.promised_end
    changes: dict[str, object] = {
        "promised_end": promised_end,
        "latest_finish": max(promised_end, row.latest_finish),
    }
    if row.telling:
        changes["telling"] = row.telling + 1
    touch(row, expected=None, **changes)
    if row.telling:
        told.update(told=row.telling)
        notices.tell_planned(row, told.values_list("premises_id", flat=True))
    if later:
        row.affected.filter(care="life_support").update(answered_at=None)
    words = f"Clearance {row.pk}: promised end moved to {timezone.localtime(promised_end):%H:%M}: {why}."
    return write(who, "move_promised_end", words, clearance=row)
