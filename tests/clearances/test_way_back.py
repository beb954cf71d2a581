"""The way back, written again when the network or another clearance has changed meanwhile."""

from clearances.models import Clearance, IsolationPoint, Step
from clearances.services import orders, planning, switching, way_back
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .plays import Tap
from .said import codes, texts
from .sql import breaks, refused, typed


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


def again(cast: Cast, clearance: Clearance, why: str = "C-208 stays with 42") -> Outcome:
    who, version = cast.who(cast.dana), fresh(clearance).version
    return way_back.write_way_back(who, clearance=clearance.pk, version=version, why=why)


def check(cast: Cast, clearance: Clearance) -> Outcome:
    who, version = cast.who(cast.ines), fresh(clearance).version
    return orders.check_order(who, clearance=clearance.pk, version=version)


def waiting(clearance: Clearance) -> list[tuple[str, str]]:
    steps = Step.objects.filter(order=clearance.pk, half="restore", state="waiting").order_by("place")
    return list(steps.values_list("operation", "device"))


def give(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = fresh(clearance).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def test_what_another_clearance_holds_meanwhile_stays_open(cast: Cast) -> None:
    """Another crew's tag has come to C-208: written again, the way back takes this clearance's tag off there
    and closes C-221 alone."""
    one = cast.job("working")
    own = cast.bring(cast.asked(holder=cast.bo), "isolated")
    cast.leave(one)
    cast.release(fresh(one))
    assert ("close", "C-208") in waiting(one)
    entry = done(again(cast, one)).entry
    assert entry.words.endswith(
        "writes the way back of order " + f"{one.pk} again: 4 steps. C-208 stays with 42."
    )
    assert {operation for operation, _ in waiting(one)} == {"remove_tag"}
    assert own.pk != one.pk


def test_a_second_person_checks_it_before_a_step_is_given(cast: Cast) -> None:
    one = cast.job("released")
    done(again(cast, one))
    step = next(step for step in cast.steps(one, "restore") if step.state == "waiting")
    assert codes(give(cast, one, step)) == ["order_not_checked"]
    writer = orders.check_order(cast.who(cast.dana), clearance=one.pk, version=fresh(one).version)
    assert codes(writer) == ["checker_is_writer"]
    counted = one.affected.count()
    assert done(check(cast, one)).entry.words == f"{cast.ines} checks the way back of order {one.pk}."
    assert fresh(one).affected.count() == counted
    cast.restore(fresh(one))
    assert fresh(one).job.state == "finished"


def test_what_was_already_done_of_it_stands(cast: Cast) -> None:
    one = cast.job("released")
    untag, close, *_ = cast.steps(one, "restore")
    for step in (untag, close):
        cast.give_step(one, step)
        cast.report_step(step)
    done(again(cast, one))
    assert {step.state for step in Step.objects.filter(pk__in=[untag.pk, close.pk])} == {"reported"}
    assert untag.device_id not in {device for _, device in waiting(one)}
    assert len({device for _, device in waiting(one)}) == 3


def test_it_may_be_written_while_the_crew_works_and_not_before(tap: Tap) -> None:
    one = tap.job("isolated")
    assert codes(again(tap, one)) == ["no_way_back_yet"]
    tap.give(fresh(one))
    assert codes(again(tap, one)) == ["no_way_back_yet"]
    tap.accept(fresh(one))
    done(again(tap, one))
    assert waiting(one) == [("remove_tag", "C-233"), ("close", "C-233")]


def test_not_with_a_step_out(tap: Tap) -> None:
    one = tap.job("released")
    step, *_ = tap.steps(one, "restore")
    tap.give_step(one, step)
    assert codes(again(tap, one)) == ["step_unreported"]


def test_the_points_and_the_isolate_half_stand_meanwhile(tap: Tap) -> None:
    one = tap.job("working")
    done(again(tap, one))
    choice = planning.choose_points(
        tap.who(tap.dana), clearance=one.pk, version=fresh(one).version, devices=["C-221"]
    )
    assert codes(choice) == ["not_plannable"]
    assert codes(orders.write_order(tap.who(tap.dana), clearance=one.pk, version=fresh(one).version)) == [
        "not_plannable"
    ]
    point = IsolationPoint.objects.get(clearance=one.pk)
    refused(
        "checked_plan_is_fixed", "UPDATE clearances_isolationpoint SET phases = 'A' WHERE id = %s", point.pk
    )
    refused(
        "isolate_half_is_over",
        "UPDATE clearances_step SET phases = 'A' WHERE order_id = %s AND half = 'isolate'",
        one.pk,
    )


def test_the_database_wants_two_people_for_it_too(tap: Tap) -> None:
    one = tap.job("working")
    done(again(tap, one))
    sql = (
        "UPDATE clearances_switchingorder SET state = 'checked', checked_by_id = %s, checked_at = now()"
        " WHERE clearance_id = %s"
    )
    typed("UPDATE clearances_switchingorder SET state = 'draft' WHERE clearance_id = %s", one.pk)
    refused(
        "order_is_signed",
        "UPDATE clearances_switchingorder SET rewritten_by_id = NULL, rewritten_at = NULL"
        " WHERE clearance_id = %s",
        one.pk,
    )
    breaks("order_checked_by_another", sql, tap.dana.pk, one.pk)
    typed(sql, tap.ines.pk, one.pk)


def test_another_writer_does_not_check_his_own_way_back(tap: Tap) -> None:
    one = tap.job("working")
    who, version = tap.who(tap.ines), fresh(one).version
    done(way_back.write_way_back(who, clearance=one.pk, version=version, why="look"))
    assert texts(check(tap, one))[0].startswith(f"{tap.ines} wrote this order")
    breaks(
        "order_rewritten_checked_by_another",
        "UPDATE clearances_switchingorder SET state = 'checked', checked_by_id = %s, checked_at = now()"
        " WHERE clearance_id = %s",
        tap.ines.pk,
        one.pk,
    )


def test_what_may_break_load_is_opened_before_what_may_not_and_closed_after_it(cast: Cast) -> None:
    """What is only checked is one of them; a customer's own disconnect is opened last."""
    one = cast.job("asked")
    devices = ["D-212", "J-207", "C-221", "N-7", "B-12"]
    done(planning.choose_points(cast.who(cast.dana), clearance=one.pk, version=one.version, devices=devices))
    cast.write(fresh(one))
    steps = Step.objects.filter(order=one.pk).order_by("place").values_list("half", "operation", "device_id")
    assert [(operation, device) for half, operation, device in steps if half == "isolate"] == [
        ("check_open", "N-7"), ("open", "B-12"), ("open", "J-207"), ("open", "C-221"), ("open", "D-212"),
    ]  # fmt: skip
    assert [device for _, operation, device in steps if operation == "close"] == [
        "C-221", "J-207", "B-12", "D-212",
    ]  # fmt: skip
