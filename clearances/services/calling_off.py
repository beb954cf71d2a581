"""Calling a job off before its clearance is given."""

from collections.abc import Iterable

from circuits.models import Premises

from .. import facts, notices, promises
from ..models import AffectedPremises, Clearance, Role, Step, SwitchingOrder
from ..rules.clauses import IN_ORDER
from ..rules.refusal import Refusal
from .switching import end_job_if_over
from .verb import Outcome, Refused, Stale, Who, lock_clearance, lock_with_told, touch, verb, write


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
    """Call a job off before its clearance is given, with all its later stages. What was already opened has to
    be restored, step by step: the rest is left out.
    """
    row = lock_with_told(clearance)
    later = row.job.clearances.filter(stage__gt=row.stage).exclude(state=Clearance.State.WITHDRAWN)
    stages = [row, *(lock_clearance(number) for number in later.order_by("pk").values_list("pk", flat=True))]
    given = Step.objects.filter(order__clearance__in=stages, state=Step.State.GIVEN)
    if refusals := tuple(no for one in stages for no in _refuse_call_off(one, given.filter(order=one.pk))):
        return Refused(refusals)
    begun = 0
    for one in stages:
        expected = version if one is row else None
        if isinstance(problem := touch(one, expected=expected, state=Clearance.State.WITHDRAWN), Stale):
            return problem
        begun += _leave_out(one)
        if one.telling:
            notices.tell_cancelled(
                one, one.affected.exclude(told=0).values_list("premises_id", flat=True), why=why
            )
    end_job_if_over(row.job_id, why)
    others = promises.renew()
    by_voice = ", ".join(_live_on_it(stages))
    called = f" A person calls the life-support premises: {by_voice}." if by_voice else ""
    further = f" and its later stages ({', '.join(str(one.pk) for one in stages[1:])})" if stages[1:] else ""
    rest = f" {begun} {'device is' if begun == 1 else 'devices are'} to be restored." if begun else ""
    return write(
        who,
        "call_off_job",
        f"{who.actor} calls off job {row.job_id} (clearance {row.pk}){further}: {why}.{rest}{called}{others}",
        clearance=row,
    )


def _live_on_it(stages: Iterable[Clearance]) -> list[str]:
    """Where somebody lives on a machine who has been told of the work: their plan was made for it."""
    told = AffectedPremises.objects.filter(clearance__in=stages, care="life_support").exclude(told=0)
    homes = Premises.ever.filter(pk__in=told.values("premises")).order_by("address", "unit", "pk")
    return [f"{home.address} {home.unit}".strip() for home in homes]


def _leave_out(clearance: Clearance) -> int:
    """Leave out all steps but those that put back what was already moved or tagged; the number of its
    devices. Without any, the order is withdrawn.
    """
    steps = Step.objects.filter(order__clearance=clearance)
    begun = set(
        steps.filter(half=Step.Half.ISOLATE).exclude(reported_phases="").values_list("device", flat=True)
    )
    begun |= set(facts.live_tags().filter(clearance=clearance).values_list("device", flat=True))
    steps.filter(state=Step.State.WAITING).exclude(half=Step.Half.RESTORE, device__in=begun).update(
        state=Step.State.LEFT_OUT
    )
    if not begun:
        under_way = SwitchingOrder.objects.filter(
            clearance=clearance, state__in=["draft", "checked", "paused"]
        )
        under_way.update(state="withdrawn", paused_why="")
    return len(begun)
