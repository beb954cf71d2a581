"""Plays of what a job leaves on the network: the example's change set planned, the word that it is built;
a step given."""

from collections import Counter
from typing import ClassVar

from django.utils import timezone

from clearances.models import ChangeSet, Clearance, Interruption, LogEntry, Step
from clearances.services import changes, switching
from clearances.services.verb import Outcome
from tests.cast import POINTS, Cast, done
from tests.core.test_asleft import AT_11_20
from tests.core.test_example import SECTION


def plan(cast: Cast, clearance: Clearance, change: str, **given: str) -> Outcome:
    return changes.plan_change(cast.who(cast.dana), clearance=clearance.pk, change=change, given=given)


def planned(cast: Cast, clearance: Clearance) -> ChangeSet:
    """The example's change set, in the order in which it can be planned."""
    for change, given in AT_11_20:
        done(plan(cast, clearance, change, **given))
    return ChangeSet.objects.get()


def built(cast: Cast, row: ChangeSet, **said: object) -> LogEntry:
    outcome = changes.confirm_change(
        cast.who(cast.ana),
        change_set=row.pk,
        done_at=timezone.now(),
        **said,  # type: ignore[arg-type]
    )
    return done(outcome).entry


def give(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.values_list("version", flat=True).get(pk=step.order_id)
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


class WithTie(Cast):
    """The demo's job with T-217's cutout and the tie to its neighbour among the points."""

    points: ClassVar[tuple[str, ...]] = (*POINTS, "F-217", "S-217")


def out_by_transformer() -> dict[str, int]:
    """How many customers of the section are out, by transformer."""
    out = Interruption.objects.filter(on_at=None, premises__transformer__in=SECTION)
    return dict(Counter(out.values_list("premises__transformer", flat=True)))
