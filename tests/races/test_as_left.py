"""Changes of the network at the same moment as each other, and as a step of the restore half."""

from functools import partial

from django.utils import timezone

from circuits import snapshot
from circuits.models import Device, NetworkRevision
from clearances.models import ChangeSet, Clearance, Step
from clearances.services import changes, switching
from clearances.services.verb import Done, Outcome, Refused
from tests.cast import Cast, done

from .conftest import Race

ROUNDS = 3  # each judges the whole network


def plan(cast: Cast, clearance: Clearance, device: str, link: str) -> Outcome:
    given = {"device": device, "link": link}
    return changes.plan_change(cast.who(cast.dana), clearance=clearance.pk, change="change_link", given=given)


def test_two_foremen_confirm_at_once_and_both_are_in_the_network(race: Race) -> None:
    cast = race.cast
    theirs = {
        "C-233": cast.asked(holder=cast.ana),
        "C-280": cast.asked(holder=cast.bo, from_pole="P-281", to_pole="P-282"),
    }
    for number in range(ROUNDS):
        for device, clearance in theirs.items():
            done(plan(cast, clearance, device, f"{number + 10}T"))

        def confirm(clearance: Clearance) -> Outcome:
            row = ChangeSet.objects.get(clearance=clearance, state="planned")
            return changes.confirm_change(
                cast.who(clearance.holder), change_set=row.pk, done_at=timezone.now()
            )

        outcomes = race.together(*(partial(confirm, one) for one in theirs.values()))
        assert [type(outcome) for outcome in outcomes] == [Done, Done], outcomes
        links = Device.objects.filter(pk__in=theirs).values_list("link", flat=True)
        assert set(links) == {f"{number + 10}T"}
        assert NetworkRevision.objects.count() == 1 + 2 * (number + 1)
        assert snapshot.compiled().network.revision == NetworkRevision.objects.latest("pk").pk


def test_a_restore_step_is_never_given_past_a_change_that_was_planned_before_it(race: Race) -> None:
    cast = race.cast
    clearance = cast.job("released")
    step = cast.steps(clearance, Step.Half.RESTORE)[0]
    for _ in range(ROUNDS):
        version = Clearance.objects.values_list("version", flat=True).get(pk=clearance.pk)

        def give(version: int = version) -> Outcome:
            return switching.give_step(
                cast.who(cast.ines), step=step.pk, version=version, given_to="Sal", repeated_back=True
            )

        planned, given = race.together(lambda: plan(cast, clearance, "C-233", "8T"), give)
        assert isinstance(planned, Done)
        if isinstance(given, Done):
            assert given.entry.number < planned.entry.number
        elif isinstance(given, Refused):
            assert [refusal.code for refusal in given.refusals] == ["change_not_confirmed"]
        race.again(
            "UPDATE clearances_step SET state = 'waiting' WHERE state = 'given'",
            "UPDATE clearances_changeset SET state = 'not_done', said_by = 'Ana', said_at = now()"
            " WHERE state = 'planned'",
        )
