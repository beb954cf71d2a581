"""Asking for a clearance, as a new job or as a further stage of one, and moving its promised end."""

import datetime
from dataclasses import dataclass

from django.utils import timezone

from circuits import snapshot
from circuits.core import limits as core_limits
from circuits.core.network import Compiled

from .. import facts, holders, promises
from ..models import Clearance, Job, Limit, Person, Role
from ..rules.asking import may_ask
from ..rules.clauses import BRIEFED, IN_ORDER, ONE_IN_CHARGE
from ..rules.holders import said_at_asking
from ..rules.refusal import Refusal
from ..rules.words import letters
from .verb import Outcome, Refused, Who, lock_clearance, lock_with_told, touch, verb, write


@dataclass(frozen=True, slots=True)
class Request:
    """What somebody asks for: limits from pole to pole on some phases, or one `transformer` behind its own
    cutout; what is done there, by whom, and when.
    """

    from_pole: str
    to_pole: str
    phases: str
    transformer: str
    work: str
    crew: str
    window_start: datetime.datetime
    promised_end: datetime.datetime
    latest_finish: datetime.datetime
    recall_minutes: int
    alternate: Person | None

    def limits(self, compiled: Compiled) -> core_limits.Limits:
        if self.transformer:
            return core_limits.behind_cutout(compiled, self.transformer)
        return core_limits.between(compiled, self.from_pole, self.to_pole, self.phases)

    @property
    def limits_words(self) -> str:
        if self.transformer:
            return (
                f"{self.transformer} from its own cutout on, with its secondary. Not the primary line, which "
                "may be energized; not the neutral."
            )
        run = (
            f"at {self.from_pole}"
            if self.from_pole == self.to_pole
            else f"{self.from_pole} to {self.to_pole}"
        )
        return f"Primary {run}, phases {letters(self.phases)}. Not the neutral, not the secondaries."


def _ask(
    who: Who,
    name: str,
    asked: Request,
    *,
    own_clearance: bool,
    job: Job | None = None,
    stage: int = 1,
    reason_for_customers: str = "",
) -> Outcome:
    """Store a request of whoever speaks, as a new job or as a further stage of `job`."""
    holder = who.actor
    refusals: tuple[Refusal, ...] = ()
    try:
        inside = asked.limits(snapshot.compiled())
    except core_limits.NoSuchLimits as error:
        about = asked.transformer or f"{asked.from_pole} {asked.to_pole}"
        unknown = Refusal("limits", about, str(error), BRIEFED, "Name the poles and phases again.")
        inside, refusals = core_limits.Limits((), ()), (unknown,)
    refusals += may_ask(
        holder=str(holder),
        qualified=holder.may_hold_on(timezone.localdate(asked.latest_finish)),
        window_start=asked.window_start,
        promised_end=asked.promised_end,
        latest_finish=asked.latest_finish,
        now=timezone.now(),
        same_limits=()
        if own_clearance
        else facts.same_limits(inside.nodes, asked.window_start, asked.promised_end, holder=holder, job=job),
    )
    if refusals:
        return Refused(refusals)
    also = holders.in_the_same_hours(holder, inside.nodes, asked.window_start, asked.promised_end)
    if job is None:
        job = Job.objects.create(
            work=asked.work, reason_for_customers=reason_for_customers, requested_by=holder
        )
    clearance = Clearance.objects.create(
        job=job,
        stage=stage,
        work=asked.work,
        holder=holder,
        alternate=asked.alternate,
        crew=asked.crew,
        limits_words=asked.limits_words,
        window_start=asked.window_start,
        promised_end=asked.promised_end,
        latest_finish=asked.latest_finish,
        recall_minutes=asked.recall_minutes,
    )
    Limit.objects.bulk_create(
        [Limit(clearance=clearance, node_id=node, phases=some) for node, some in inside.nodes]
        + [Limit(clearance=clearance, line_id=line, phases=some) for line, some in inside.lines]
    )
    which = f", stage {stage} of job {job.pk}" if stage > 1 else ""
    beside = " A clearance of its own, beside any other crew's." if own_clearance else ""
    return write(
        who,
        name,
        f"{holder} asks for clearance {clearance.pk}{which}: {clearance.limits_words} {asked.work}, "
        f"{timezone.localtime(asked.window_start):%d %b %H:%M} to "
        f"{timezone.localtime(asked.promised_end):%H:%M}.{beside}{said_at_asking(str(holder), also)}",
        clearance=clearance,
        nodes=inside.nodes,
        lines=inside.lines,
    )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def ask_for_clearance(
    who: Who,
    *,
    work: str,
    reason_for_customers: str,
    crew: str,
    window_start: datetime.datetime,
    promised_end: datetime.datetime,
    latest_finish: datetime.datetime,
    recall_minutes: int,
    from_pole: str = "",
    to_pole: str = "",
    phases: str = "",
    transformer: str = "",
    alternate: Person | None = None,
    own_clearance: bool = False,
) -> Outcome:
    """The holder-to-be asks for exact limits; they are stored as nodes and lines by phase, and the words are
    made from them.

    The limits are from pole to pole on some phases, or one transformer behind its own cutout. Where another
    crew has limits in common in the same hours, the asker says that this crew has a clearance of its own
    (`own_clearance`), or signs on under the other.
    """
    asked = Request(
        from_pole,
        to_pole,
        phases,
        transformer,
        work,
        crew,
        window_start,
        promised_end,
        latest_finish,
        recall_minutes,
        alternate,
    )
    return _ask(
        who,
        "ask_for_clearance",
        asked,
        own_clearance=own_clearance,
        reason_for_customers=reason_for_customers,
    )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def ask_for_next_stage(
    who: Who,
    *,
    clearance: int,
    work: str,
    window_start: datetime.datetime,
    promised_end: datetime.datetime,
    latest_finish: datetime.datetime,
    from_pole: str = "",
    to_pole: str = "",
    phases: str = "",
    transformer: str = "",
    own_clearance: bool = False,
) -> Outcome:
    """A further stage of the job of a clearance, with limits, times and a clearance of its own.

    The crew, the recall time and the alternate holder are those of the stage before. The clearance of that
    stage is released as a whole before this one is given, and not before the protection of this one stands.
    """
    before = lock_clearance(clearance)
    if before.job.state != Job.State.ACTIVE:
        text = f"Job {before.job_id} is {before.job.state}."
        return Refused((Refusal("job_over", str(before), text, IN_ORDER, "Ask for a new clearance."),))
    job = Job.objects.select_for_update(no_key=True).get(pk=before.job_id)
    last = job.clearances.exclude(state=Clearance.State.WITHDRAWN).order_by("-stage").first()
    asked = Request(
        from_pole,
        to_pole,
        phases,
        transformer,
        work,
        before.crew,
        window_start,
        promised_end,
        latest_finish,
        before.recall_minutes,
        before.alternate,
    )
    return _ask(
        who,
        "ask_for_next_stage",
        asked,
        own_clearance=own_clearance,
        job=job,
        stage=(last or before).stage + 1,
    )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def move_promised_end(who: Who, *, clearance: int, promised_end: datetime.datetime, why: str) -> Outcome:
    """The holder (or the desk for them) says when it will be done. Customers whose power is back at another
    hour than they were told are told again, those of other clearances as well; a later hour asks life-support
    premises again.
    """
    row = lock_with_told(clearance)
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
    touch(row, expected=None, promised_end=promised_end, latest_finish=max(promised_end, row.latest_finish))
    again = promises.renew()
    words = (
        f"Clearance {row.pk}: promised end moved to {timezone.localtime(promised_end):%H:%M}: {why}.{again}"
    )
    return write(who, "move_promised_end", words, clearance=row)
