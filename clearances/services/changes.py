"""What a job changes on the network: planned, built by the field's word, settled, surveyed."""

import datetime
import inspect
from collections.abc import Iterator, Mapping, Sequence

from django.utils import timezone

from circuits import snapshot
from circuits.asleft import TRADE, written

from .. import asleft, effects, facts, loading, network, pickups, promises
from ..models import ChangeSet, Clearance, Role
from ..rules.asleft import change_words, may_end, may_plan, may_say, may_settle
from ..rules.clauses import ONE_IN_CHARGE, PICTURE
from ..rules.refusal import Refusal
from .verb import Done, Outcome, Refused, Who, lock_with_told, touch, verb, write

State = ChangeSet.State


def _locked(number: int) -> tuple[Clearance, ChangeSet]:
    """A change set and its clearance, locked in the order of all verbs."""
    clearance = lock_with_told(ChangeSet.objects.values_list("clearance", flat=True).get(pk=number))
    return clearance, ChangeSet.objects.select_for_update(no_key=True).get(pk=number)


def _whole(change: str, given: Mapping[str, str]) -> dict[str, str] | None:
    """What a change is told, with what it takes where nothing is said; None where it is not told all."""
    if change not in TRADE:
        return None
    wanted = {
        name: one.default
        for name, one in inspect.signature(TRADE[change]).parameters.items()
        if one.kind is inspect.Parameter.KEYWORD_ONLY
    }
    said = {name: value.strip() for name, value in given.items() if value.strip()}
    whole = {name: said.get(name, default) for name, default in wanted.items()}
    if set(said) - set(wanted) or inspect.Parameter.empty in whole.values():
        return None
    return whole


@verb(Role.OPERATOR, Role.ENGINEER, Role.FOREMAN)
def plan_change(
    who: Who,
    *,
    clearance: int,
    change: str,
    given: Mapping[str, str],
    until: datetime.datetime | None = None,
) -> Outcome:
    """Add one change to what a job is to change on the network; refused if the network could not be so.

    `change` is one of the trade's: set_switch, move_transformer, normal_position, change_link, add_span,
    remove_span, add_device, remove_device, temporary_jumper; `given` says of what, by the names of the
    package's columns. A temporary jumper has a time `until` when its owner takes it off.
    """
    row = lock_with_told(clearance)
    planners = (Role.OPERATOR, Role.ENGINEER)
    if not who.actor.has_role(*planners) and row.holder_id != who.actor.pk:
        text = f"Clearance {row.pk} is {row.holder}'s; they, the desk or the engineer plan its changes."
        way = f"Ask {row.holder}, or an operator."
        return Refused((Refusal("not_the_holder", str(row), text, ONE_IN_CHARGE, way),))
    whole = _whole(change, given)
    if whole is None:
        text = f"«{change}» with {', '.join(sorted(given)) or 'nothing'} is no change that the board knows."
        return Refused(
            (Refusal("no_such_change", change, text, PICTURE, "Choose one and fill in each field."),)
        )
    if change == "temporary_jumper" and until is None:
        text = "A temporary jumper stays until a time that is written down."
        return Refused((Refusal("no_end", change, text, PICTURE, "Say until when it may stay."),))
    planned = ChangeSet.objects.filter(clearance=row, state=State.PLANNED).first()
    kept = {"change": change, "given": whole, "words": change_words(change, whole)}
    every = [*(planned.planned if planned else ()), kept]
    judged = asleft.judge(every)
    if refusals := may_plan(judged.faults):
        return Refused(refusals)
    sizes = loading.told(snapshot.compiled(), judged.network, every) if judged.network else ""
    if planned is None:
        planned = ChangeSet(clearance=row, planned_by=who.actor, planned_at=timezone.now())
    planned.planned = every
    planned.until = until or planned.until
    planned.save()
    touch(row, expected=None)
    words = f"{who.actor} plans for clearance {row.pk}, {planned}: {kept['words']}.{sizes}{promises.renew()}"
    return write(who, "plan_change", words, clearance=row, change_set=planned.pk, change=kept)


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def confirm_change(
    who: Who,
    *,
    change_set: int,
    done_at: datetime.datetime,
    not_built: Sequence[str] = (),
    differently: str = "",
) -> Outcome:
    """The holder says what was built, and the network in use becomes so in the same moment.

    `not_built` are the numbers (1, 2 ...) of planned changes that were left, `differently` says in words what
    was built otherwise. What was built is always kept. Where the network can't be so on the board's record,
    or was built otherwise, the report is irregular, the network stays as it was in that, and nothing of the
    job's restore half is given until the desk has settled it.
    """
    clearance, row = _locked(change_set)
    refusals = may_say(
        str(row),
        state=row.state,
        says=row.get_state_display(),
        holder=str(clearance.holder),
        holds=clearance.holder_id == who.actor.pk,
    )
    built = [one for place, one in enumerate(row.planned, start=1) if str(place) not in not_built]
    if not refusals and not built and not differently:
        text = f"Nothing of {row} was built, then it is not confirmed."
        refusals = (Refusal("nothing_built", str(row), text, PICTURE, "Mark it not done."),)
    if refusals:
        return Refused(refusals)
    now = timezone.now()
    when = min(done_at, now)
    before = snapshot.compiled()
    laid = (
        asleft.lay_in(row, built, said_by=who.said_by, how=who.how, done_at=when) if built else asleft.Laid()
    )
    unsettled = " ".join([*([f"Built otherwise: {differently}"] if differently else ()), *laid.faults[:3]])
    ChangeSet.objects.filter(pk=row.pk).update(
        state=State.CONFIRMED,
        built=built,
        rows=written(laid.changes),
        revision=laid.revision,
        said_by=who.said_by,
        said_at=now,
        done_at=done_at,
        unsettled=unsettled,
    )
    touch(clearance, expected=None)
    said = "; ".join(one["words"] for one in built) or "nothing as planned"
    missing = [one["words"] for one in row.planned if one not in built]
    left = f" Not built: {'; '.join(missing)}." if missing else ""
    sizes = loading.told(before, snapshot.compiled(), built) if laid.changes else ""
    words = f"{who.said_by}: {row} of clearance {clearance.pk} is built: {said}.{left}{sizes}"
    return _after(who, "confirm_change", words, clearance, row, laid, done_at=done_at, unsettled=unsettled)


def _after(
    who: Who,
    name: str,
    words: str,
    clearance: Clearance,
    row: ChangeSet,
    laid: asleft.Laid,
    *,
    done_at: datetime.datetime,
    unsettled: str,
) -> Done:
    """Log a change that is laid in, or is not, with what follows from it."""
    effect = effects.Effect((), ())
    upset: tuple[str, ...] = ()
    if laid.changes:
        effect = effects.of_a_change(done_at=min(done_at, timezone.now()), clearance=clearance)
        upset = (*network.upset_by(snapshot.compiled()), *_counted_otherwise())
    if laid.revision:
        words += f" Network revision {laid.revision.pk}."
    if effect.words:
        words += f" {effect.words}."
    return write(
        who,
        name,
        " ".join([words, *upset]) + promises.renew(),
        clearance=clearance,
        done_at=done_at,
        irregular=unsettled,
        change_set=row.pk,
        revision=laid.revision.pk if laid.revision else None,
        upset=list(upset),
        off=effect.off,
        back=effect.back,
    )


def _counted_otherwise() -> Iterator[str]:
    """The checked orders that would take out others than those who were counted with the check."""
    rows = Clearance.objects.filter(state=Clearance.State.ASKED, order__state__in=facts.UNDER_WAY)
    for one in rows.select_related("holder").order_by("pk"):
        counted = set(one.affected.values_list("premises_id", flat=True))
        now = set(pickups.kept_out(one))
        if now != counted:
            yield (
                f"Order {one.pk} ({one.holder.last_name}) would take out {len(now - counted)} customers who "
                f"were not counted with its check, and spare {len(counted - now)}."
            )


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def mark_not_done(who: Who, *, change_set: int, why: str) -> Outcome:
    """The holder says that nothing of a planned change was built; the network stays as it is."""
    clearance, row = _locked(change_set)
    refusals = may_say(
        str(row),
        state=row.state,
        says=row.get_state_display(),
        holder=str(clearance.holder),
        holds=clearance.holder_id == who.actor.pk,
    )
    if refusals:
        return Refused(refusals)
    ChangeSet.objects.filter(pk=row.pk).update(
        state=State.NOT_DONE, said_by=who.said_by, said_at=timezone.now(), ended_why=why
    )
    touch(clearance, expected=None)
    words = f"{who.said_by}: {row} of clearance {clearance.pk} is not done: {why}.{promises.renew()}"
    return write(who, "mark_not_done", words, clearance=clearance, change_set=row.pk)


@verb(Role.OPERATOR, Role.ENGINEER)
def settle_change(who: Who, *, change_set: int, why: str) -> Outcome:
    """What was built otherwise than planned, or could not be laid in, is in the network now.

    What is not laid in is tried once more. It is settled when that can be, or when a later change of the same
    job was confirmed and laid in, which says what was really built.
    """
    clearance, row = _locked(change_set)
    later = (
        ChangeSet.objects.filter(clearance__job=clearance.job_id, pk__gt=row.pk, state=State.CONFIRMED)
        .exclude(revision=None)
        .order_by("-pk")
        .first()
    )
    laid = asleft.Laid()
    if row.unsettled and row.revision_id is None and later is None:
        if row.built:
            laid = asleft.lay_in(row, row.built, said_by=row.said_by, how=who.how, done_at=timezone.now())
        else:
            laid = asleft.Laid(faults=("nothing of it was built as planned.",))
    if refusals := may_settle(str(row), unsettled=bool(row.unsettled), faults=laid.faults):
        return Refused(refusals)
    revision = laid.revision.pk if laid.revision else row.revision_id or (later and later.revision_id)
    ChangeSet.objects.filter(pk=row.pk).update(
        unsettled="", revision=revision, rows=written(laid.changes) if laid.changes else row.rows
    )
    touch(clearance, expected=None)
    words = f"{who.actor} settles {row} of clearance {clearance.pk}: {why}."
    return _after(who, "settle_change", words, clearance, row, laid, done_at=timezone.now(), unsettled="")


@verb(Role.ENGINEER)
def survey_change(who: Who, *, change_set: int, why: str) -> Outcome:
    """The engineer has seen a confirmed change on the line, and keeps it on the utility's own record from
    then on: an import decides again.
    """
    return _end(who, "survey_change", change_set, State.SURVEYED, why)


@verb(Role.ENGINEER)
def withdraw_change(who: Who, *, change_set: int, why: str) -> Outcome:
    """The engineer says that a confirmed change is not so, or no more: an import may undo it. The network in
    use stays as it is until then.
    """
    return _end(who, "withdraw_change", change_set, State.WITHDRAWN, why)


def _end(who: Who, name: str, number: int, state: str, why: str) -> Outcome:
    clearance, row = _locked(number)
    if refusals := may_end(str(row), state=row.state, says=row.get_state_display()):
        return Refused(refusals)
    # Withdrawn, the network on the board is right as it is, laid in or not.
    unsettled = "" if state == State.WITHDRAWN else row.unsettled
    ChangeSet.objects.filter(pk=row.pk).update(
        state=state, ended_by=who.actor, ended_at=timezone.now(), ended_why=why, unsettled=unsettled
    )
    touch(clearance, expected=None)
    words = f"{who.actor}: {row} of clearance {clearance.pk} is {State(state).label}: {why}."
    return write(who, name, words, clearance=clearance, change_set=row.pk)
