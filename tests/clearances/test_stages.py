"""A job in stages, and two crews in the same limits."""

import datetime
from typing import Any

import pytest
from django.utils import timezone

from circuits.core.limits import behind_cutout
from circuits.snapshot import compiled
from clearances.models import Clearance, Job, LogEntry, SignOn
from clearances.services import asking, calling_off, giving, on_the_line, planning
from clearances.services.verb import Outcome
from notifications.models import Notice
from tests.cast import Cast, done

from .plays import SecondStage, called_off
from .said import codes, texts
from .sql import GIVE, RELEASE, breaks, refused, typed


@pytest.fixture
def second(cast: Cast) -> SecondStage:
    return SecondStage.present()


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


def give(cast: Cast, clearance: Clearance) -> Outcome:
    version = fresh(clearance).version
    return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=version)


def release(cast: Cast, clearance: Clearance) -> Outcome:
    return giving.release_clearance(
        cast.who(clearance.holder),
        clearance=clearance.pk,
        version=None,
        told_everyone=True,
        all_off=True,
    )


def test_a_stage_has_limits_times_points_tags_and_customers_of_its_own(
    cast: Cast, second: SecondStage
) -> None:
    one = cast.job("working")
    two = second.bring(second.follow(one), "checked")
    assert (two.job_id, two.stage, two.work, two.crew) == (one.job_id, 2, "Change T-217 out", one.crew)
    assert {(limit.node_id, limit.phases) for limit in two.limits.all()} == set(
        behind_cutout(compiled(), "T-217").nodes
    )
    assert two.limits_words.startswith(
        "T-217 from its own cutout on, with its secondary. Not the primary line"
    )
    assert {row.premises.transformer_id for row in two.affected.select_related("premises")} == {"T-217"}
    assert two.affected.count() == 9
    assert [point.tag_number for point in two.points.all()] == [f"{two.pk}-1", f"{two.pk}-2"]


def test_s19_s20_the_next_stage_stands_before_the_first_is_released(cast: Cast, second: SecondStage) -> None:
    """Stage 1 ends, the primary is energized again and the secondary work goes on: there is no partial
    release. Stage 2 has points and tags of its own, which stand before stage 1 is released, and is given
    after it."""
    one = cast.job("working")
    two = second.follow(one)
    short = f"Stage 2 (clearance {two.pk}) follows, and its protection does not stand yet:"
    cast.leave(one)
    assert texts(release(cast, one)) == [f"{short} its order is not written."]
    two = second.bring(two, "told")
    first_step, last_step = second.steps(two, "isolate")
    second.give_step(two, first_step)
    second.report_step(first_step)
    assert texts(release(cast, one)) == [
        f"{short} S-217 is not reported open, made inoperable and tagged on every phase."
    ]
    second.give_step(two, last_step)
    second.report_step(last_step)

    assert texts(give(cast, two)) == [
        f"Clearance {one.pk} ({one.holder}, {one.holder.phone}) of an earlier stage of this job is out."
    ]
    done(release(cast, one))
    done(give(cast, two))
    second.accept(fresh(two))
    cast.restore(fresh(one))
    assert fresh(two).job.state == Job.State.ACTIVE
    assert SignOn.objects.filter(clearance=two).count() == 0  # nobody came along from stage 1


def test_a_second_stage_that_is_called_off_holds_nothing_back(cast: Cast, second: SecondStage) -> None:
    one = cast.job("working")
    two = second.follow(one)
    cast.leave(one)
    assert codes(release(cast, one)) == ["next_stage_unprotected"]
    called_off(cast, two)
    done(release(cast, one))
    cast.restore(fresh(one))
    assert fresh(one).job.state == Job.State.FINISHED


def test_s07_calling_off_the_first_stage_calls_off_the_later_ones(cast: Cast, second: SecondStage) -> None:
    one = cast.job("told")
    two = second.bring(second.follow(one), "told")
    three = second.follow(fresh(one), transformer="T-219")
    assert (two.stage, three.stage) == (2, 3)
    withdrawn = called_off(cast, fresh(one))
    assert {fresh(each).state for each in (one, two, three)} == {"withdrawn"}
    assert withdrawn.job.state == Job.State.CANCELLED
    assert Notice.objects.filter(fact=f"clearance:{two.pk}:cancelled").exists()
    assert f"its later stages ({two.pk}, {three.pk})" in LogEntry.objects.order_by("-number")[0].words


def test_a_stage_under_way_keeps_the_job_from_being_called_off(cast: Cast, second: SecondStage) -> None:
    one = cast.job("told")
    two = second.bring(second.follow(one), "told")
    step, *_ = second.steps(two, "isolate")
    second.give_step(two, step)
    outcome = call_off(cast, one)
    assert texts(outcome) == [f"Step {step.place} (F-217) is given and not yet reported."]
    assert {fresh(each).state for each in (one, two)} == {"asked"}


def call_off(cast: Cast, clearance: Clearance) -> Outcome:
    who, version = cast.who(cast.dana), fresh(clearance).version
    return calling_off.call_off_job(who, clearance=clearance.pk, version=version, why="storm")


def test_no_stage_follows_a_job_that_is_over(cast: Cast, second: SecondStage) -> None:
    one = called_off(cast, cast.job("checked"))
    times: dict[str, Any] = {
        "window_start": timezone.now(),
        "promised_end": timezone.now() + datetime.timedelta(hours=1),
        "latest_finish": timezone.now() + datetime.timedelta(hours=1),
    }
    asked = asking.ask_for_next_stage(
        cast.who(cast.ana), clearance=one.pk, work="more", transformer="T-217", **times
    )
    assert codes(asked) == ["job_over"]


def test_the_database_holds_the_order_of_the_stages(cast: Cast, second: SecondStage) -> None:
    one = cast.job("working")
    two = second.bring(second.follow(one), "told")
    cast.leave(one)
    assert "F-217 phase B is not reported open" in refused(
        "given_with_every_point", RELEASE, one.holder.pk, one.pk
    )
    second.isolate(two)
    assert refused("earlier_stage_released", GIVE, cast.dana.pk, two.pk) == (
        f"Clearance {one.pk} of an earlier stage is accepted."
    )
    refused("clearance_stands", "UPDATE clearances_clearance SET stage = 1 WHERE number = %s", two.pk)
    refused("clearance_stands", "UPDATE clearances_clearance SET work = 'other' WHERE number = %s", two.pk)
    typed(RELEASE, one.holder.pk, one.pk)
    typed(GIVE, cast.dana.pk, two.pk)


def test_the_database_wants_the_next_order_checked(cast: Cast, second: SecondStage) -> None:
    one = cast.job("working")
    two = second.bring(second.follow(one), "order written")
    cast.leave(one)
    assert refused("next_stage_protected", RELEASE, one.holder.pk, one.pk) == (
        f"Order {two.pk} of stage 2 is draft."
    )


def test_stages_count_from_one(cast: Cast) -> None:
    cast.job("asked")
    breaks(
        "clearance_stage_counts_from_1",
        "INSERT INTO clearances_clearance (job_id, stage, work, holder_id, crew, limits_words, window_start,"
        " promised_end, latest_finish, recall_minutes, state, version, telling, accepted_words, frozen_why)"
        " SELECT job_id, 0, work, holder_id, crew, limits_words, window_start, promised_end, latest_finish,"
        " recall_minutes, 'asked', 1, 0, '', '' FROM clearances_clearance",
    )


# Two crews.


def ask(cast: Cast, **named: Any) -> Outcome:
    now = timezone.now()
    usual: dict[str, Any] = {
        "from_pole": "P-215",
        "to_pole": "P-216",
        "phases": "AB",
        "work": "Change the insulators",
        "reason_for_customers": "new insulators",
        "crew": "line 2",
        "window_start": now + datetime.timedelta(hours=1),
        "promised_end": now + datetime.timedelta(hours=2),
        "latest_finish": now + datetime.timedelta(hours=3),
        "recall_minutes": 20,
    }
    return asking.ask_for_clearance(cast.who(cast.bo), **usual | named)


def test_s06_an_extra_crew_signs_on_or_has_a_clearance_of_its_own(cast: Cast) -> None:
    """Given a clearance that Ana holds, Bo's crew arrives to work in the same limits: its people sign on
    under hers, or it gets a clearance of its own with its own tags on every point. The board asks which."""
    one = cast.job("working")
    asked = ask(cast)
    hers = f"Clearance {one.pk} ({one.holder}, {one.holder.phone})"
    assert texts(asked) == [f"{hers} has limits in common with these, at P-215, P-216, in the same hours."]
    name = "Max Lindner"
    done(on_the_line.sign_on(cast.who(cast.ana), clearance=one.pk, name=name, done_at=timezone.now()))

    entry = done(ask(cast, own_clearance=True)).entry
    assert entry.clearance
    assert "A clearance of its own, beside any other crew's." in entry.words
    own = cast.bring(entry.clearance, "told")
    assert codes(give(cast, own))[-4:] == ["point_not_complete"] * 4  # Ana's tags are none of Bo's
    cast.isolate(own)
    done(give(cast, own))


def test_other_hours_and_other_limits_are_nobody_elses_business(cast: Cast) -> None:
    one = cast.job("told")
    tomorrow = {
        name: one.promised_end + datetime.timedelta(hours=hours)
        for name, hours in (("window_start", 0), ("promised_end", 2), ("latest_finish", 2))
    }
    done(ask(cast, **tomorrow))
    done(ask(cast, from_pole="P-209", to_pole="P-210"))


def test_a_clearance_that_is_late_still_counts(cast: Cast) -> None:
    one = cast.job("working")
    later = {
        name: one.promised_end + datetime.timedelta(hours=hours)
        for name, hours in (("window_start", 1), ("promised_end", 2), ("latest_finish", 2))
    }
    assert codes(ask(cast, **later)) == ["same_limits"]


def test_limits_are_poles_or_one_transformer(cast: Cast) -> None:
    assert texts(ask(cast, phases="")) == [
        "Nothing is not a set of phases: write A, B, C or several of them."
    ]
    assert texts(ask(cast, transformer="T-999")) == ["There is no transformer T-999."]
    entry = done(ask(cast, transformer="T-220")).entry
    assert entry.clearance
    assert entry.clearance.limits_words.startswith("T-220 from its own cutout on")
    planning.choose_points(cast.who(cast.dana), clearance=entry.clearance.pk, version=1, devices=["F-220"])
    assert planning.ways_in(entry.clearance) == []
