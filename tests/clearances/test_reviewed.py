"""What a review found could be done although it must not: each with the sequence that showed it."""

import datetime

import pytest
from django.utils import timezone

from circuits import positions
from circuits.models import Premises
from clearances import effects
from clearances.models import Clearance, Interruption, LogEntry, Step, VoltageTest
from clearances.services import (
    asking,
    calling_off,
    customers,
    giving,
    on_the_line,
    orders,
    reporting,
    switching,
)
from clearances.services.verb import Done, Outcome, Refused
from notifications.models import Notice
from tests.cast import Cast, done

pytestmark = pytest.mark.django_db


def codes(outcome: Outcome) -> list[str]:
    assert isinstance(outcome, Refused), outcome
    return [refusal.code for refusal in outcome.refusals]


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


def give(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=step.order_id).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def first(clearance: Clearance) -> Step:
    return Step.objects.filter(order__clearance=clearance, state="waiting").order_by("half", "place")[0]


def test_no_device_has_two_steps_out(cast: Cast) -> None:
    one = cast.job("told")
    other = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211"), "told")
    done(give(cast, first(one)))
    assert codes(give(cast, first(other))) == ["device_being_operated"]


def test_a_source_reported_after_the_giving_stands_against_accepting(cast: Cast) -> None:
    one = cast.job("given")
    done(
        reporting.report_position(
            cast.who(cast.sal), device="C-221", phases="ABC", position="closed", done_at=timezone.now()
        )
    )
    refused = giving.accept_clearance(cast.who(cast.ana), clearance=one.pk, read_back="all of it")
    assert {"source_not_blocked", "point_not_complete"} <= set(codes(refused))


def found(cast: Cast, one: Clearance, at: datetime.datetime) -> Outcome:
    return on_the_line.report_test(
        cast.who(cast.ana),
        clearance=one.pk,
        pole="P-214",
        phases="C",
        result=VoltageTest.Result.PRESENT,
        instrument="contact tester 12",
        tester_proven=True,
        done_at=at,
    )


def test_voltage_found_before_the_giving_is_not_forgotten(cast: Cast) -> None:
    one = cast.job("isolated")
    done(found(cast, one, timezone.now() - datetime.timedelta(minutes=1)))
    refused = giving.give_clearance(cast.who(cast.dana), clearance=one.pk, version=fresh(one).version)
    assert codes(refused) == ["voltage_present"]


def test_an_operator_neither_writes_nor_checks_in_another_name(cast: Cast) -> None:
    one = cast.job("points chosen")
    in_another_name = cast.who(cast.dana, cast.ines, "telephone")
    refused = orders.write_order(in_another_name, clearance=one.pk, version=one.version)
    assert codes(refused) == ["own_word"]


def test_customers_whom_an_earlier_outage_hid_are_counted(cast: Cast) -> None:
    """The feeder's breaker is open while the order is checked: the 62 are counted all the same."""
    done(
        reporting.report_position(
            cast.who(cast.dana), device="B-12", phases="ABC", position="open", done_at=timezone.now()
        )
    )
    one = cast.job("order written")
    done(orders.check_order(cast.who(cast.ines), clearance=one.pk, version=one.version))
    assert one.affected.count() == 62
    assert one.affected.filter(care="life_support").exists()


def test_a_step_that_takes_out_somebody_uncounted_is_held(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if the network had changed since the check: opening takes out somebody on Ferry Street as well."""
    one = cast.job("told")
    other = Premises.objects.exclude(pk__in=one.affected.values("premises")).order_by("pk")[0]
    monkeypatch.setattr(effects, "newly_without", lambda more: {other.pk})
    outcome = give(cast, first(one))
    assert codes(outcome) == ["customers_not_counted"]
    assert isinstance(outcome, Refused)
    assert other.address in outcome.refusals[0].text


def test_what_stands_open_by_now_is_given_as_a_check(cast: Cast) -> None:
    one = cast.job("told")
    done(
        reporting.report_position(
            cast.who(cast.sal), device="C-208", phases="ABC", position="open", done_at=timezone.now()
        )
    )
    done(
        switching.resume_order(
            cast.who(cast.dana),
            clearance=one.pk,
            version=fresh(one).version,
            why="opened by the patrol, looked at",
        )
    )
    entry = done(give(cast, first(one))).entry
    assert "Check open C-208 A, B, C" in entry.words


def test_a_later_end_asks_life_support_again(cast: Cast) -> None:
    one = cast.job("told")
    later = one.promised_end + datetime.timedelta(hours=6)
    done(asking.move_promised_end(cast.who(cast.ana), clearance=one.pk, promised_end=later, why="rock"))
    assert one.affected.filter(care="life_support", answered_at=None).exists()
    assert "life_support_unanswered" in codes(give(cast, first(one)))


def test_nobody_is_told_of_what_is_over(cast: Cast) -> None:
    one = cast.job("restored")
    moved = asking.move_promised_end(
        cast.who(cast.ana),
        clearance=one.pk,
        promised_end=timezone.now() + datetime.timedelta(hours=9),
        why="x",
    )
    told = customers.tell_customers(cast.who(cast.dana), clearance=one.pk, count=62)
    assert (codes(moved), codes(told)) == (["clearance_over"], ["clearance_over"])


def test_a_second_check_tells_only_the_difference(cast: Cast) -> None:
    """The other end of the section is dropped from the points and taken in again: who was told is not told
    twice.
    """
    one = cast.job("told")
    before = Notice.objects.count()
    done(
        orders.take_check_back(
            cast.who(cast.ines), clearance=one.pk, version=fresh(one).version, why="look again"
        )
    )
    cast.check(fresh(one))
    assert Notice.objects.count() == before
    refused = customers.tell_customers(cast.who(cast.dana), clearance=one.pk, count=62)
    assert codes(refused) == ["nobody_counted"]


def test_part_of_the_power_is_not_called_off(cast: Cast) -> None:
    """Appendix minute: C-208 open, C-221 phase A open; the pump station runs on two phases."""
    one = cast.job("told")
    for device, phases in (("C-208", "ABC"), ("C-221", "A")):
        done(
            reporting.report_position(
                cast.who(cast.sal), device=device, phases=phases, position="open", done_at=timezone.now()
            )
        )
    subjects = set(Notice.objects.filter(fact__endswith=":off").values_list("subject", flat=True))
    assert subjects == {"Part of your power is off"}
    assert Interruption.objects.filter(on_at=None).exists()
    assert fresh(one).state == "asked"


def test_a_called_off_job_does_not_promise_power_to_those_without(cast: Cast) -> None:
    one = cast.job("isolated")
    who, version = cast.who(cast.dana), fresh(one).version
    done(calling_off.call_off_job(who, clearance=one.pk, version=version, why="storm"))
    bodies = list(Notice.objects.filter(fact=f"clearance:{one.pk}:cancelled").values_list("body", flat=True))
    assert len(bodies) >= 46
    assert all("being put back" in body and "stays on" not in body for body in bodies)


def test_a_shared_point_does_not_stop_the_rest_of_the_way_back(cast: Cast) -> None:
    one = cast.job("people and grounds off")
    other = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211"), "checked")
    cast.tell(other)
    done(give(cast, first(other)))
    row = Step.objects.get(order__clearance=other, state="given")
    done(
        reporting.report_step(
            cast.who(cast.sal),
            step=row.pk,
            phases="ABC",
            done_at=timezone.now(),
            made_inoperable="barrels out",
            tag=True,
        )
    )
    cast.release(fresh(one))
    while True:
        step = first(one)
        outcome = give(cast, step)
        if not isinstance(outcome, Done):
            break
        done(
            reporting.report_step(
                cast.who(cast.sal), step=step.pk, phases=step.phases, done_at=timezone.now(), tag=True
            )
        )
    assert codes(outcome) == ["tag_at_point"]
    done(
        switching.leave_step_out(
            cast.who(cast.dana), step=step.pk, version=fresh(one).version, why=f"held by {other.pk}"
        )
    )
    assert isinstance(give(cast, first(one)), Done)
    assert positions.open_phases()[step.device_id] == "ABC"


def test_a_step_is_called_back_only_as_it_was_seen(cast: Cast) -> None:
    one = cast.job("told")
    old = fresh(one).version
    done(give(cast, first(one)))
    row = Step.objects.get(order__clearance=one, state="given")
    stale = switching.call_step_back(cast.who(cast.dana), step=row.pk, version=old, why="wrong pole")
    assert not isinstance(stale, Done)
    done(
        switching.call_step_back(
            cast.who(cast.dana), step=row.pk, version=fresh(one).version, why="wrong pole"
        )
    )
    assert LogEntry.objects.filter(verb="call_step_back").count() == 1
