"""Giving the clearance, accepting it, taking it back, releasing it."""

from django.utils import timezone

from .. import facts, holders
from ..models import Clearance, Role
from ..rules.clauses import ONE_IN_CHARGE
from ..rules.giving import may_accept, may_give, may_work_again
from ..rules.refusal import Refusal
from ..rules.release import may_release
from .field_clearances import inside_limits
from .verb import Outcome, Refused, Stale, Who, lock_clearance, touch, verb, write


@verb(Role.OPERATOR, again=True)
def give_clearance(who: Who, *, clearance: int, version: int) -> Outcome:
    """Give the clearance to its holder by name. The trace from every source decides, not the boxes that were
    ticked.
    """
    row = lock_clearance(clearance)
    now_facts = facts.facts_of(row)
    if refusals := (*may_give(now_facts), *inside_limits(row), *holders.against_giving(row)):
        return Refused(refusals)
    problem = touch(
        row, expected=version, state=Clearance.State.GIVEN, given_at=timezone.now(), given_by=who.actor
    )
    if isinstance(problem, Stale):
        return problem
    points = ", ".join(f"{point.device} {point.phases} tag {point.tag_number}" for point in now_facts.points)
    words = f"{who.actor} gives clearance {row.pk} to {row.holder}: {row.limits_words} Points: {points}."
    return write(who, "give_clearance", words, clearance=row)


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def accept_clearance(who: Who, *, clearance: int, read_back: str) -> Outcome:
    """The holder accepts, reading limits and points back."""
    row = lock_clearance(clearance)
    refusals = may_accept(facts.facts_of(row), is_holder=who.actor.pk == row.holder_id, read_back=read_back)
    if refusals:
        return Refused(refusals)
    touch(
        row,
        expected=None,
        state=Clearance.State.ACCEPTED,
        accepted_at=timezone.now(),
        accepted_words=read_back.strip(),
    )
    return write(
        who,
        "accept_clearance",
        f"{who.said_by} accepts clearance {row.pk}: «{read_back.strip()}»",
        clearance=row,
    )


@verb(Role.OPERATOR)
def take_clearance_back(who: Who, *, clearance: int, version: int, why: str) -> Outcome:
    """Given, but the holder has not accepted it: it counts as not given again."""
    row = lock_clearance(clearance)
    if row.state != Clearance.State.GIVEN:
        text = f"Clearance {row.pk} is {row.state}: only its holder can give it back now."
        return Refused((Refusal("not_given", str(row), text, ONE_IN_CHARGE, f"{row.holder} releases it."),))
    if isinstance(problem := touch(row, expected=version, state=Clearance.State.ASKED), Stale):
        return problem
    return write(
        who, "take_clearance_back", f"Clearance {row.pk} taken back, not accepted: {why}.", clearance=row
    )


@verb(Role.FOREMAN, Role.OPERATOR, again=True, field_word=True)
def release_clearance(
    who: Who, *, clearance: int, version: int | None, told_everyone: bool, all_off: bool
) -> Outcome:
    """The holder releases: everyone told, all off the line, every ground set off."""
    row = lock_clearance(clearance)
    refusals = may_release(
        facts.facts_of(row, trace_paths=False),
        is_holder=who.actor.pk == row.holder_id,
        told_everyone=told_everyone,
        all_off=all_off,
    )
    if refusals:
        return Refused(refusals)
    problem = touch(
        row,
        expected=version,
        state=Clearance.State.RELEASED,
        released_at=timezone.now(),
        released_by=who.actor,
    )
    if isinstance(problem, Stale):
        return problem
    signed_on, grounds = row.sign_ons.count(), row.ground_sets.count()
    words = (
        f"{who.said_by} releases clearance {row.pk}: everyone told, {signed_on} of {signed_on} people off, "
        f"{grounds} of {grounds} ground sets off."
    )
    return write(who, "release_clearance", words, clearance=row)


@verb(Role.OPERATOR, again=True)
def end_freeze(who: Who, *, clearance: int, version: int, finding: str) -> Outcome:
    """What was found about the voltage, and a later test with none: the clearance is valid to work again."""
    row = lock_clearance(clearance)
    if refusals := may_work_again(facts.facts_of(row)):
        return Refused(refusals)
    if isinstance(
        problem := touch(row, expected=version, state=Clearance.State.ACCEPTED, frozen_why=""), Stale
    ):
        return problem
    return write(who, "end_freeze", f"Clearance {row.pk} valid to work again: {finding}.", clearance=row)
