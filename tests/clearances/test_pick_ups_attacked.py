"""Load picked up by a tie, attacked: what a lineworker at the tie, a crew that works energized and whoever
reads the printed order must not be told wrongly."""

import pytest
from django.utils import timezone

from circuits.core import joins
from circuits.core.parallels import parallels
from circuits.core.trace import Trace
from clearances import pickups
from clearances.models import ChangeSet, Clearance, Step, SwitchingOrder
from clearances.pages import papers
from clearances.services import calling_off, giving, seen, switching, way_back
from clearances.services.verb import Outcome, Stale
from tests.cast import Cast, done

from .beside import a_hold, answer, stands
from .leaving import built, plan
from .plays import SecondStage
from .said import codes, texts
from .sql import GIVE, GIVE_STEP, refused
from .test_pick_ups import choose, fresh, job, move, written

__all__ = ["job"]  # the fixture


def give(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = fresh(clearance).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def rewrite(cast: Cast, clearance: Clearance) -> Outcome:
    version = fresh(clearance).version
    return way_back.write_way_back(
        cast.who(cast.dana), clearance=clearance.pk, version=version, why="looked at again"
    )


def printed(clearance: Clearance) -> list[tuple[str, str, str, int]]:
    paper = papers.order(fresh(clearance))
    return [
        (row["step"].device_id, row["before"], row["after"], row["out"])
        for row in (*paper["isolate"], *paper["restore"])
        if row["step"].operation != Step.Operation.REMOVE_TAG
    ]


def test_the_printed_order_starts_with_the_tie_open(cast: Cast, job: Clearance) -> None:
    """Whenever it is printed: a tie that reads closed before it is closed is one that nobody goes to."""
    cast.bring(job, "told", since="points chosen")
    opened, closed = "A, B, C open", "A, B, C closed"
    order = [
        ("N-7", opened, closed, 0),
        ("B-14", closed, opened, 0),
        ("R-31", closed, opened, 17),
        ("R-31", opened, closed, 0),
        ("B-14", opened, closed, 0),
        ("N-7", closed, opened, 0),
    ]
    assert printed(job) == order
    (tie, *_) = cast.steps(job, "isolate")
    cast.give_step(job, tie)
    cast.report_step(tie)
    assert printed(job) == order


def test_a_tie_that_feeds_a_hold_past_its_recloser_waits_for_its_holder(cast: Cast, job: Clearance) -> None:
    """Reclosing is off at R-31 alone: over N-7 the crew that works energized hangs on B-12 as well, which
    closes by itself."""
    hold = a_hold(cast)
    cast.bring(job, "told", since="points chosen")
    (tie, *_) = cast.steps(job, "isolate")
    said = give(cast, job, tie)
    assert codes(said) == ["close_energizes_hold"]
    assert texts(said)[0].startswith(
        "Closing N-7 ABC would energize the line at P-278 to P-279, phases A, B, C another way than over "
        f"R-31 (hot-line hold {hold.number}"
    )
    answer(cast, hold, "yes")
    done(give(cast, job, tie))


def test_a_way_back_written_again_is_played_from_what_stands(
    cast: Cast, job: Clearance, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was left out is not done once more: else each close would find its device closed already, and join
    nothing. Here as where no loop may be made at all."""
    cast.bring(job, "accepted", since="points chosen")
    done(rewrite(cast, job))

    def loops(before: Trace, then: Trace) -> tuple[str, ...]:
        return tuple(loop.words for loop in parallels(then).beyond(parallels(before)).loops)

    monkeypatch.setattr(joins, "never_joined", loops)
    assert [device for device, _ in pickups.joined_in_turn(fresh(job))] == ["B-14"]


def test_written_again_the_tie_is_opened_before_the_points_are_closed_where_it_was_closed_after_them(
    cast: Cast, job: Clearance
) -> None:
    """Also where a switch that spares the tie was opened before the points: two stations are not paralleled
    on the way back."""
    done(choose(cast, job, closes=["N-7"], opens=["C-280"]))
    cast.write(fresh(job))
    done(move(cast, job, "N-7", "isolate", 0))
    done(move(cast, job, "N-7", "restore", cast.steps(job, "restore")[0].place))
    assert [device for _, device, _ in written(job, "isolate")] == ["C-280", "B-14", "R-31", "N-7"]
    before = written(job, "restore")
    assert before[0] == ("open", "N-7", "")
    cast.bring(fresh(job), "accepted", since="order written")
    done(rewrite(cast, job))
    assert written(job, "restore") == before


def test_a_tie_of_which_one_phase_is_stuck_is_opened_again_and_the_job_called_off(
    cast: Cast, job: Clearance
) -> None:
    """The step was neither whole nor to be called back, so nothing further could be given, nor called off."""
    cast.bring(job, "told", since="points chosen")
    (tie, *_) = cast.steps(job, "isolate")
    cast.give_step(job, tie)
    cast.report_step(tie, "AB")
    done(seen.report_stuck(cast.who(cast.sal), step=tie.pk, phases="C", done_at=timezone.now()))
    assert isinstance(call_back(cast, job, tie), Stale)  # A and B are closed
    stands(cast, "N-7", "open", "AB")
    done(call_back(cast, job, tie))
    tie.refresh_from_db()
    assert (tie.state, tie.reported_phases) == ("waiting", "")
    off = calling_off.call_off_job(
        cast.who(cast.dana), clearance=job.pk, version=fresh(job).version, why="N-7 would not close"
    )
    done(off)
    assert SwitchingOrder.objects.get(pk=job.pk).state == "withdrawn"


def call_back(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = fresh(clearance).version
    return switching.call_step_back(cast.who(cast.dana), step=step.pk, version=version, why="stuck")


def test_no_tie_is_closed_while_the_stage_before_may_have_built_something(cast: Cast) -> None:
    """As nothing is closed in the restore half then: over the tie comes voltage to what nobody knows."""
    one = cast.asked(from_pole="P-272", to_pole="P-273")
    done(choose(cast, one))
    cast.bring(fresh(one), "accepted", since="points chosen")
    two = SecondStage.follow(
        SecondStage.present(), one, transformer="", from_pole="P-272", to_pole="P-273", phases="ABC"
    )
    done(choose(cast, two, closes=["N-7"]))
    done(plan(cast, two, "change_link", device="F-272", link="10T"))  # of its own: nobody has built it
    cast.bring(fresh(two), "told", since="points chosen")
    (tie, *_) = cast.steps(two, "isolate")
    assert (tie.operation, tie.device_id) == ("close", "N-7")
    cast.call_roll(tie)
    done(give(cast, two, tie))
    done(call_back(cast, two, tie))
    done(plan(cast, one, "change_link", device="F-273", link="10T"))
    said = give(cast, two, tie)
    assert codes(said) == ["change_not_confirmed"]
    assert "(link 10T in F-273)" in texts(said)[0]
    refused("restore_as_left", GIVE_STEP, cast.dana.pk, tie.pk)
    built(cast, ChangeSet.objects.get(clearance=one))
    done(give(cast, two, tie))


def test_no_clearance_is_given_while_the_tie_is_still_to_be_closed(cast: Cast, job: Clearance) -> None:
    """With both points open and tagged it could be, and then no step of the isolate half any more: whoever
    was told of minutes was out until the end."""
    cast.write(job)
    done(move(cast, job, "N-7", "isolate", 0))
    cast.bring(fresh(job), "told", since="order written")
    *points, tie = cast.steps(job, "isolate")
    for step in points:
        cast.give_step(job, step)
        cast.report_step(step)

    def give_clearance() -> Outcome:
        version = fresh(job).version
        return giving.give_clearance(cast.who(cast.dana), clearance=job.pk, version=version)

    assert codes(give_clearance()) == ["pick_up_not_done"]
    assert refused("given_after_pick_ups", GIVE, cast.dana.pk, job.pk)
    cast.give_step(job, tie)
    assert codes(give_clearance()) == ["pick_up_not_done"]
    cast.report_step(tie)
    done(give_clearance())
