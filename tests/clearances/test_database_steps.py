"""What the database itself refuses of steps and of an order, typed by hand as the board's own role.

The other half, that the same things are stored when somebody reports them, is in `test_observations`; that
what was written is kept, in `test_database_history`; the giving and the release, in `test_database_giving`.
"""

import pytest
from django.utils import timezone

from clearances.models import Clearance
from clearances.services import on_the_line
from tests.cast import Cast, done

from .plays import Tap, released_and_untagged, step
from .sql import GIVE_STEP, HANG, REPORT, TAG_OFF, breaks, refused, typed

# Steps.


@pytest.mark.parametrize("state", ["draft", "paused"])
def test_no_step_is_given_unless_the_order_is_checked(tap: Tap, state: str) -> None:
    clearance = tap.job("order written" if state == "draft" else "told")
    if state == "paused":
        typed(
            "UPDATE clearances_switchingorder SET state = 'paused', paused_why = 'C-233 found open'"
            " WHERE clearance_id = %s",
            clearance.pk,
        )
    said = refused("step_from_checked_order", GIVE_STEP, tap.dana.pk, tap.steps(clearance, "isolate")[0].pk)
    assert said == f"Order {clearance.pk} is {state}; no step may be given."


def test_two_steps_are_never_given_at_once(cast: Cast) -> None:
    clearance = cast.job("told")
    first, second, *_ = cast.steps(clearance, "isolate")
    typed(GIVE_STEP, cast.dana.pk, first.pk)
    breaks("one_step_given_at_a_time", GIVE_STEP, cast.dana.pk, second.pk)


def test_one_device_is_ordered_operated_by_one_order_at_a_time(tap: Tap) -> None:
    """Two orders share the point; not at the same moment."""
    orders = tap.job("told"), tap.bring(tap.asked(holder=tap.bo), "told")
    first, second = (tap.steps(each, "isolate")[0] for each in orders)
    assert first.device_id == second.device_id
    typed(GIVE_STEP, tap.dana.pk, first.pk)
    breaks("one_step_given_a_device", GIVE_STEP, tap.dana.pk, second.pk)
    tap.report_step(first)
    typed(GIVE_STEP, tap.dana.pk, second.pk)


def test_no_step_is_given_while_life_support_is_unanswered(cast: Cast) -> None:
    """Nor does it help to take the premises off the list, to call it something else, or to write an answer
    that is no person's."""
    clearance = cast.job("checked")
    first = cast.steps(clearance, "isolate")[0]
    said = refused("life_support_answered", GIVE_STEP, cast.dana.pk, first.pk)
    address = clearance.affected.get(care="life_support").premises.address
    assert said == f"Life-support at {address}: no person has answered yet."
    where = f"WHERE clearance_id = {clearance.pk} AND care = 'life_support'"
    refused("checked_plan_is_fixed", f"DELETE FROM clearances_affectedpremises {where}")
    refused("checked_plan_is_fixed", f"UPDATE clearances_affectedpremises SET care = 'none' {where}")
    breaks(
        "answer_is_a_person",
        f"UPDATE clearances_affectedpremises SET answered_at = now(), plan = 'away' {where}",
    )
    typed(
        "UPDATE clearances_affectedpremises SET answered_at = now(), answered_by = 'the daughter',"
        f" plan = 'stays with her sister', taken_by_id = %s {where}",
        cast.mira.pk,
    )
    typed(GIVE_STEP, cast.dana.pk, first.pk)


def test_no_step_of_the_isolate_half_is_given_once_the_clearance_is_given(tap: Tap) -> None:
    """The step was never given, but what it says was reported done; so the clearance could be given."""
    clearance = tap.job("told")
    (first,) = tap.steps(clearance, "isolate")
    tap.report_step(first)
    tap.give(Clearance.objects.get(pk=clearance.pk))
    said = refused("isolate_before_given", GIVE_STEP, tap.dana.pk, first.pk)
    assert said == f"Clearance {clearance.pk} is given; its isolate half is over."


@pytest.mark.parametrize("stage", ["told", "given", "accepted", "people and grounds off"])
@pytest.mark.parametrize("operation", ["remove_tag", "close"])
def test_no_tag_is_ordered_off_and_nothing_closed_before_the_release(
    tap: Tap, stage: str, operation: str
) -> None:
    """(m)(3)(xii): no tag comes off before its clearance is released [from memory]."""
    clearance = tap.job(stage)
    refused("restore_after_release", GIVE_STEP, tap.dana.pk, step(tap, clearance, "restore", operation).pk)


def test_nothing_is_ordered_closed_with_its_own_tag_on(tap: Tap) -> None:
    """(m)(3)(xiii): all tags off that point [from memory]."""
    clearance = tap.job("released")
    said = refused("no_close_with_tag", GIVE_STEP, tap.dana.pk, step(tap, clearance, "restore", "close").pk)
    assert (
        said == f"C-233 can't be ordered closed: tag {clearance.pk}-1 of clearance {clearance.pk} is on it."
    )


def test_nothing_is_ordered_closed_with_anothers_tag_on(tap: Tap) -> None:
    """Both orders were written before any tag hung, so both close C-233 at the end."""
    first, second = tap.job("checked"), tap.asked(holder=tap.bo)
    second = tap.bring(second, "checked")
    tap.isolate(first)
    typed(REPORT, "C-233", "B", "open", "barrel out")
    typed(HANG, "B", second.pk, "C-233")
    tap.give(Clearance.objects.get(pk=first.pk))
    tap.accept(first)
    close = released_and_untagged(tap, Clearance.objects.get(pk=first.pk))
    said = refused("no_close_with_tag", GIVE_STEP, tap.dana.pk, close.pk)
    assert said == f"C-233 can't be ordered closed: tag {second.pk}-1 of clearance {second.pk} is on it."
    typed(TAG_OFF, f"{second.pk}-1")
    typed(GIVE_STEP, tap.dana.pk, close.pk)


def test_nothing_is_ordered_closed_at_a_point_of_a_clearance_that_is_out(tap: Tap) -> None:
    """The other's tag was reported off too soon. That is stored; the point is held all the same."""
    first, second = tap.job("checked"), tap.bring(tap.asked(holder=tap.bo), "checked")
    tap.isolate(first)
    typed(HANG, "B", second.pk, "C-233")
    for each in (first, second):
        tap.give(Clearance.objects.get(pk=each.pk))
        tap.accept(Clearance.objects.get(pk=each.pk))
    typed(TAG_OFF, f"{second.pk}-1")
    close = released_and_untagged(tap, Clearance.objects.get(pk=first.pk))
    said = refused("no_close_at_held_point", GIVE_STEP, tap.dana.pk, close.pk)
    assert (
        said == f"C-233 can't be ordered closed: it is a point of clearance {second.pk}, which is accepted."
    )


def test_nothing_is_ordered_closed_with_a_ground_set_on(tap: Tap) -> None:
    clearance = tap.job("accepted")
    close = released_and_untagged(tap, clearance)
    who = tap.who(tap.ana)
    done(
        on_the_line.ground_on(
            who, clearance=clearance.pk, label="G3", pole="P-252", phases="B", done_at=timezone.now()
        )
    )
    said = refused("no_close_with_ground", GIVE_STEP, tap.dana.pk, close.pk)
    assert said == "C-233 can't be ordered closed: ground set G3 is on at P-252."


def test_nothing_is_ordered_closed_with_a_person_on(tap: Tap) -> None:
    clearance = tap.job("accepted")
    close = released_and_untagged(tap, clearance)
    who = tap.who(tap.ana)
    done(on_the_line.sign_on(who, clearance=clearance.pk, name="Lee Abara", done_at=timezone.now()))
    said = refused("no_close_with_person", GIVE_STEP, tap.dana.pk, close.pk)
    assert said == f"C-233 can't be ordered closed: Lee Abara is signed on under clearance {clearance.pk}."


def test_a_step_is_given_by_somebody_to_somebody_and_reported_whole(cast: Cast) -> None:
    clearance = cast.job("told")
    first = cast.steps(clearance, "isolate")[0]
    where = f"WHERE id = {first.pk}"
    breaks("step_given_by_someone", f"UPDATE clearances_step SET state = 'given', given_at = now() {where}")
    cast.give_step(clearance, first)
    reported = "UPDATE clearances_step SET state = 'reported', reported_at = now()"
    breaks("step_reported_whole", f"{reported}, reported_phases = 'AB' {where}")
    breaks(
        "step_reported_whole",
        f"UPDATE clearances_step SET state = 'reported', reported_phases = 'ABC', reported_at = NULL {where}",
    )
    typed(f"{reported}, reported_phases = 'ABC' {where}")


# The order.


def test_the_checker_is_never_the_writer(tap: Tap) -> None:
    clearance = tap.job("order written")
    check = (
        "UPDATE clearances_switchingorder SET state = 'checked', checked_by_id = %s, checked_at = now()"
        f" WHERE clearance_id = {clearance.pk}"
    )
    breaks("order_checked_by_another", check, tap.dana.pk)
    breaks("order_checked_by_another", check, None)
    typed(check, tap.ines.pk)


def test_neither_writer_nor_checker_is_put_in_afterwards(tap: Tap) -> None:
    clearance = tap.job("checked")
    for column in ("written_by_id", "checked_by_id"):
        refused(
            "order_is_signed",
            f"UPDATE clearances_switchingorder SET {column} = %s WHERE clearance_id = %s",
            tap.ruth.pk,
            clearance.pk,
        )


UNCHECK = (
    "UPDATE clearances_switchingorder SET state = 'draft', checked_by_id = NULL, checked_at = NULL"
    " WHERE clearance_id = %s"
)


def test_an_order_that_was_begun_is_no_draft_again(tap: Tap) -> None:
    clearance = tap.job("told")
    (first,) = tap.steps(clearance, "isolate")
    typed(GIVE_STEP, tap.dana.pk, first.pk)
    for state in ("given", "reported"):
        said = refused("begun_order_is_no_draft", UNCHECK, clearance.pk)
        assert said == (
            f"Step 1 of order {clearance.pk} (C-233 B) is {state}; the order is no draft any more."
        )
        if state == "given":
            tap.report_step(first)


def test_an_order_of_which_no_step_was_given_may_be_a_draft_again(tap: Tap) -> None:
    clearance = tap.job("told")
    typed(UNCHECK, clearance.pk)
    typed("DELETE FROM clearances_step WHERE order_id = %s", clearance.pk)


def test_an_order_is_not_paused_without_a_reason(tap: Tap) -> None:
    clearance = tap.job("checked")
    pause = "UPDATE clearances_switchingorder SET state = 'paused' WHERE clearance_id = %s"
    breaks("order_paused_why", pause, clearance.pk)
