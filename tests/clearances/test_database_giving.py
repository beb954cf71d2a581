"""What the database itself refuses of the giving, the acceptance and the release, of sources and of tags,
typed by hand as the board's own role."""

import datetime

import pytest

from clearances import facts
from clearances.models import Clearance
from clearances.services import switching
from tests.cast import Cast, done

from .plays import Tap, called_off, released_and_untagged, step
from .sql import ACCEPT, GIVE, GIVE_STEP, HANG, RELEASE, REPORT, TAG_OFF, TEST, breaks, refused, typed

# The giving.


def test_no_clearance_is_given_unless_the_order_is_checked(tap: Tap) -> None:
    clearance = tap.job("isolated")
    typed(
        "UPDATE clearances_switchingorder SET state = 'paused', paused_why = 'C-233 found closed'"
        " WHERE clearance_id = %s",
        clearance.pk,
    )
    said = refused("given_on_checked_order", GIVE, tap.dana.pk, clearance.pk)
    assert said == f"Order {clearance.pk} is not checked by a second person."


@pytest.mark.parametrize(
    ("change", "value"),
    [
        ("may_hold_until = %s", None),
        ("may_hold_until = %s", datetime.date(2026, 1, 31)),
        ("may_hold_until = now() - %s", datetime.timedelta(days=2)),
        ("roles = %s", ["operator"]),
        ("is_active = %s", False),
    ],
)
def test_no_clearance_is_given_to_who_may_not_hold_it(tap: Tap, change: str, value: object) -> None:
    clearance = tap.job("isolated")
    typed(f"UPDATE clearances_person SET {change} WHERE id = %s", value, tap.ana.pk)
    refused("holder_qualified", GIVE, tap.dana.pk, clearance.pk)


def test_the_last_day_of_a_qualification_counts_in_every_time_zone(tap: Tap) -> None:
    """The database's day may already be tomorrow where the utility's is not."""
    clearance = tap.job("isolated")
    typed(
        "UPDATE clearances_person SET may_hold_until = (now() AT TIME ZONE 'Etc/GMT+12')::date WHERE id = %s",
        tap.ana.pk,
    )
    typed(GIVE, tap.dana.pk, clearance.pk)


def test_no_clearance_is_given_without_points(tap: Tap) -> None:
    clearance = tap.job("asked")
    typed(
        "INSERT INTO clearances_switchingorder"
        " (clearance_id, state, written_by_id, written_at, network_revision, paused_why)"
        " VALUES (%s, 'draft', %s, now(), 1, '')",
        clearance.pk,
        tap.dana.pk,
    )
    typed(
        "UPDATE clearances_switchingorder SET state = 'checked', checked_by_id = %s, checked_at = now()"
        " WHERE clearance_id = %s",
        tap.ines.pk,
        clearance.pk,
    )
    refused("given_with_points", GIVE, tap.dana.pk, clearance.pk)


@pytest.mark.parametrize("lacks", ["open", "inoperable", "tagged"])
def test_no_clearance_is_given_without_every_phase_of_every_point(cast: Cast, lacks: str) -> None:
    """(m)(3)(ii): opened, made inoperable, tagged, each of them on each phase [V, OSHRC 06-0166]."""
    clearance = cast.job("isolated")
    for phase in "ABC":
        if lacks == "open":
            typed(REPORT, "C-221", phase, "closed", "")
        elif lacks == "inoperable":
            typed(REPORT, "C-221", phase, "open", "")
        else:
            typed(TAG_OFF, f"{clearance.pk}-2")
            typed(HANG, "ABC".replace(phase, ""), clearance.pk, "C-221")
        said = refused("given_with_every_point", GIVE, cast.dana.pk, clearance.pk)
        assert said == f"C-221 phase {phase} is not reported open, made inoperable and tagged."
        if lacks == "tagged":
            typed(TAG_OFF, f"{clearance.pk}-2")
            typed(HANG, "ABC", clearance.pk, "C-221")
        else:
            typed(REPORT, "C-221", phase, "open", "barrel out")
    typed(GIVE, cast.dana.pk, clearance.pk)


def test_anothers_tag_is_no_tag_of_ones_own(tap: Tap) -> None:
    """(m)(2)(iv)(B): each crew has its own tags [V2 for (A), from memory for (B)]."""
    mine = tap.job("isolated")
    other = tap.bring(tap.asked(holder=tap.bo), "checked")
    refused("given_with_every_point", GIVE, tap.dana.pk, other.pk)
    typed(HANG, "B", other.pk, "C-233")
    typed(GIVE, tap.dana.pk, other.pk)
    typed(GIVE, tap.dana.pk, mine.pk)


def test_no_clearance_is_given_while_one_of_its_points_is_ordered_closed(tap: Tap) -> None:
    first, second = tap.job("checked"), tap.bring(tap.asked(holder=tap.bo), "checked")
    tap.isolate(first)
    tap.give(Clearance.objects.get(pk=first.pk))
    tap.accept(Clearance.objects.get(pk=first.pk))
    close = released_and_untagged(tap, Clearance.objects.get(pk=first.pk))
    tap.give_step(first, close)
    typed(HANG, "B", second.pk, "C-233")
    said = refused("given_with_no_close_ordered", GIVE, tap.dana.pk, second.pk)
    assert said == f"Order {first.pk} has C-233 ordered closed."
    who = tap.who(tap.dana)
    done(
        switching.call_step_back(
            who,
            step=close.pk,
            version=Clearance.objects.get(pk=first.pk).version,
            why="a second crew is at it",
        )
    )
    typed(GIVE, tap.dana.pk, second.pk)


def test_a_clearance_is_given_by_somebody_and_accepted_in_words(tap: Tap) -> None:
    clearance = tap.job("isolated")
    where = f"WHERE number = {clearance.pk}"
    breaks("clearance_given_by_someone", f"UPDATE clearances_clearance SET state = 'given' {where}")
    typed(GIVE, tap.dana.pk, clearance.pk)
    breaks(
        "clearance_accepted_in_words",
        f"UPDATE clearances_clearance SET state = 'accepted', accepted_at = now() {where}",
    )
    typed(
        "UPDATE clearances_clearance SET state = 'accepted', accepted_at = now(), accepted_words = 'C-233'"
        f" {where}"
    )
    breaks("clearance_frozen_why", f"UPDATE clearances_clearance SET state = 'frozen' {where}")


@pytest.mark.parametrize("lacks", ["open", "inoperable", "tagged"])
def test_no_clearance_is_accepted_without_every_phase_of_every_point(cast: Cast, lacks: str) -> None:
    """It was given on them; what was reported since counts as well."""
    clearance = cast.job("given")
    if lacks == "open":
        typed(REPORT, "C-221", "B", "closed", "")
    elif lacks == "inoperable":
        typed(REPORT, "C-221", "B", "open", "")
    else:
        typed(TAG_OFF, f"{clearance.pk}-2")
        typed(HANG, "AC", clearance.pk, "C-221")
    said = refused("given_with_every_point", ACCEPT, clearance.pk)
    assert said == "C-221 phase B is not reported open, made inoperable and tagged."
    if lacks == "tagged":
        typed(TAG_OFF, f"{clearance.pk}-2")
        typed(HANG, "ABC", clearance.pk, "C-221")
    else:
        typed(REPORT, "C-221", "B", "open", "barrel out")
    typed(ACCEPT, clearance.pk)


@pytest.mark.parametrize("stage", ["isolated", "given", "frozen"])
def test_no_clearance_is_given_or_accepted_while_voltage_found_stands(cast: Cast, stage: str) -> None:
    """It stands until a later test at that pole and on that phase finds none, tester proven: whatever the
    clocks say."""
    clearance = cast.job("accepted" if stage == "frozen" else stage)
    typed(TEST, clearance.pk, "P-214", "ABC", "none", True)
    typed(TEST, clearance.pk, "P-214", "AB", "present", False)
    move: tuple[object, ...] = (ACCEPT, clearance.pk)
    if stage == "isolated":
        move = (GIVE, cast.dana.pk, clearance.pk)
    if stage == "frozen":
        freeze = "UPDATE clearances_clearance SET state = 'frozen', frozen_why = 'voltage' WHERE number = %s"
        typed(freeze, clearance.pk)
        move = ("UPDATE clearances_clearance SET state = 'accepted' WHERE number = %s", clearance.pk)
    sql, *values = (str(move[0]), *move[1:])
    for pole, phases, proven, stands in (
        ("P-215", "ABC", True, "A"),  # another pole
        ("P-214", "ABC", False, "A"),  # a tester that was not proven
        ("P-214", "C", True, "A"),  # another phase
        ("P-214", "A", True, "B"),
    ):
        typed(TEST, clearance.pk, pole, phases, "none", proven)
        said = refused("no_voltage_found", sql, *values)
        assert said == f"Voltage was found at P-214, phase {stands}, and no later test there without."
    typed(TEST, clearance.pk, "P-214", "B", "none", True)
    typed(sql, *values)


# Sources that no device parts.

AGREE = (
    "INSERT INTO clearances_sourcedisposition (clearance_id, source_id, decision, agreed_by_id)"
    " VALUES (%s, %s, 'the owner pulls its plug', %s)"
)


def test_nobody_agrees_on_a_station(tap: Tap) -> None:
    clearance = tap.asked()
    said = refused("source_of_a_customer", AGREE, clearance.pk, "ST-1", tap.ana.pk)
    assert said == "ST-1 is a station: it is parted from the limits by points."


def test_nobody_agrees_for_the_holder(tap: Tap) -> None:
    clearance = tap.asked()
    said = refused("source_agreed_by_holder", AGREE, clearance.pk, "GEN-219", tap.dana.pk)
    assert said == f"Only the holder of clearance {clearance.pk} can agree on GEN-219."


@pytest.mark.parametrize("stage", ["given", "accepted", "released"])
def test_nobody_agrees_on_a_source_once_the_clearance_is_given(tap: Tap, stage: str) -> None:
    clearance = tap.job(stage)
    said = refused("source_agreed_before_given", AGREE, clearance.pk, "GEN-219", tap.ana.pk)
    assert said == f"Clearance {clearance.pk} is {stage}; it is too late to agree on GEN-219."


# Tags.


def test_no_tag_of_one_point_covers_another_device(tap: Tap) -> None:
    clearance, other = tap.job("told"), tap.bring(tap.asked(holder=tap.bo), "told")
    hang = (
        "INSERT INTO clearances_tag"
        " (number, clearance_id, point_id, device_id, phases, hung_at, hung_by, off_by, irregular)"
        " SELECT %s, %s, id, %s, 'B', now(), 'Sal', '', '' FROM clearances_isolationpoint"
        f" WHERE clearance_id = {clearance.pk}"
    )
    number = f"{clearance.pk}-1"
    breaks("tag_at_its_point", hang, number, clearance.pk, "C-280")
    breaks("tag_at_its_point", hang, number, other.pk, "C-233")
    said = refused("tag_number_of_its_point", hang, f"{clearance.pk}-2", clearance.pk, "C-233")
    assert said == f"The tag of this point is {number}, not {clearance.pk}-2."
    typed(hang, number, clearance.pk, "C-233")


def test_no_step_operates_another_device_than_its_points(tap: Tap) -> None:
    clearance = tap.job("order written")
    where = f"WHERE order_id = {clearance.pk} AND half = 'isolate'"
    breaks("step_at_its_point", f"UPDATE clearances_step SET device_id = 'C-280' {where}")
    breaks(
        "step_at_its_point",
        f"UPDATE clearances_isolationpoint SET device_id = 'C-280' WHERE clearance_id = {clearance.pk}",
    )


# The release.


def test_no_clearance_is_released_with_a_person_on(tap: Tap) -> None:
    clearance = tap.job("accepted")
    tap.sign_on(clearance)
    typed("UPDATE clearances_signon SET off_at = now() WHERE name = 'Sal Moreno'")
    said = refused("released_with_people_off", RELEASE, tap.ana.pk, clearance.pk)
    assert said == f"Lee Abara is signed on under clearance {clearance.pk}."
    typed("UPDATE clearances_signon SET off_at = now() WHERE name = 'Lee Abara'")
    typed(RELEASE, tap.ana.pk, clearance.pk)


def test_no_clearance_is_released_with_a_ground_set_on(tap: Tap) -> None:
    clearance = tap.job("grounded")
    typed("UPDATE clearances_groundset SET off_at = now(), off_by = 'Sal' WHERE label = 'G3'")
    said = refused("released_with_grounds_off", RELEASE, tap.ana.pk, clearance.pk)
    assert said == "Ground set G5 is on at P-215."
    typed("UPDATE clearances_groundset SET off_at = now(), off_by = 'Sal' WHERE label = 'G5'")
    typed(RELEASE, tap.ana.pk, clearance.pk)


def test_no_clearance_is_released_by_another_than_its_holder(tap: Tap) -> None:
    clearance = tap.job("accepted")
    for other in (tap.bo, tap.dana, tap.ruth):
        breaks("clearance_released_by_holder", RELEASE, other.pk, clearance.pk)
    breaks("clearance_released_by_holder", RELEASE, None, clearance.pk)


def test_a_job_called_off_keeps_its_tag_until_it_is_off(tap: Tap) -> None:
    """Withdrawn counts as over, but the tag at the point counts too."""
    clearance = called_off(tap, tap.job("isolated"))
    assert facts.live_tags().filter(clearance=clearance).exists()
    refused("no_close_with_tag", GIVE_STEP, tap.dana.pk, step(tap, clearance, "restore", "close").pk)
