"""What the database keeps: whose clearance it is, the checked plan, and everything that was ever reported."""

from pathlib import Path

import pytest

from tests.cast import Cast

from .plays import Tap
from .sql import HANG, REPORT, TEST, breaks, no_right, refused, typed

GROUND = (
    "INSERT INTO clearances_groundset"
    " (clearance_id, label, pole, phases, on_at, on_by, off_by, irregular)"
    " VALUES (%s, %s, %s, %s, now(), 'Sal', '', '')"
)
AGREE = (
    "INSERT INTO clearances_sourcedisposition (clearance_id, source_id, decision, agreed_by_id)"
    " VALUES (%s, 'GEN-219', %s, %s)"
)


def test_the_holder_does_not_change_by_an_edit(tap: Tap) -> None:
    for stage in ("asked", "accepted"):
        clearance = tap.job(stage)
        for change in (f"holder_id = {tap.bo.pk}", "number = 9000"):
            said = refused(
                "holder_stays", f"UPDATE clearances_clearance SET {change} WHERE number = {clearance.pk}"
            )
            assert said == f"The holder of clearance {clearance.pk} does not change by an edit."


@pytest.mark.parametrize("stage", ["checked", "accepted", "released"])
def test_limits_and_points_stand_once_the_order_is_checked(tap: Tap, stage: str) -> None:
    clearance, draft = tap.job(stage), tap.asked()
    where = f"WHERE clearance_id = {clearance.pk}"
    for sql in (
        f"UPDATE clearances_limit SET phases = 'A' {where}",
        f"DELETE FROM clearances_limit {where}",
        f"UPDATE clearances_limit SET clearance_id = {draft.pk} {where}",
        f"INSERT INTO clearances_limit (clearance_id, node_id, phases) VALUES ({clearance.pk}, 'P-214', 'A')",
        f"UPDATE clearances_isolationpoint SET device_id = 'C-280' {where}",
        f"DELETE FROM clearances_isolationpoint {where}",
        f"UPDATE clearances_isolationpoint SET clearance_id = {draft.pk} {where}",
        (
            "INSERT INTO clearances_isolationpoint (clearance_id, device_id, phases, place)"
            f" VALUES ({clearance.pk}, 'C-280', 'ABC', 2)"
        ),
        f"DELETE FROM clearances_affectedpremises {where}",
    ):
        refused("checked_plan_is_fixed", sql)


def test_nothing_is_moved_into_a_checked_plan_either(tap: Tap) -> None:
    draft, checked = tap.job("order written"), tap.bring(tap.asked(holder=tap.bo), "checked")
    for table in ("limit", "isolationpoint"):
        refused(
            "checked_plan_is_fixed",
            f"UPDATE clearances_{table} SET clearance_id = {checked.pk} WHERE clearance_id = {draft.pk}",
        )
    refused(
        "checked_order_is_fixed",
        f"UPDATE clearances_step SET order_id = {checked.pk}, place = 9 WHERE order_id = {draft.pk}",
    )


@pytest.mark.parametrize("stage", ["checked", "isolated", "released"])
def test_the_steps_stand_once_the_order_is_checked(tap: Tap, stage: str) -> None:
    clearance, draft = tap.job(stage), tap.bring(tap.asked(holder=tap.bo), "order written")
    first = tap.steps(clearance, "isolate")[0]
    for change in (
        "device_id = 'C-280'",
        "phases = 'A'",
        "operation = 'check_open'",
        "place = 7",
        "half = 'restore', operation = 'close'",
        f"order_id = {draft.pk}",
    ):
        refused("checked_order_is_fixed", f"UPDATE clearances_step SET {change} WHERE id = {first.pk}")
    refused("checked_order_is_fixed", f"DELETE FROM clearances_step WHERE id = {first.pk}")
    refused(
        "checked_order_is_fixed",
        "INSERT INTO clearances_step"
        " (order_id, half, place, operation, device_id, phases, point_id, state, given_to, reported_phases)"
        " SELECT order_id, half, 9, operation, 'C-280', phases, point_id, 'waiting', '', ''"
        f" FROM clearances_step WHERE id = {first.pk}",
    )
    refused(
        "checked_order_is_kept",
        f"DELETE FROM clearances_switchingorder WHERE clearance_id = {clearance.pk}",
    )


def test_a_step_that_waits_no_more_stands_in_a_draft_too(tap: Tap) -> None:
    """A given one never gets into a draft: see `test_database_steps`; one that was left out may."""
    clearance = tap.job("order written")
    (first,) = tap.steps(clearance, "isolate")
    where = f"WHERE id = {first.pk}"
    typed(f"UPDATE clearances_step SET state = 'left_out' {where}")
    for change in (
        "device_id = 'C-280'",
        "phases = 'A'",
        "operation = 'check_open'",
        "place = 7",
        "half = 'restore', operation = 'close'",
        "point_id = point_id + 1",
    ):
        said = refused("begun_step_stands", f"UPDATE clearances_step SET {change} {where}")
        assert said == f"Step 1 of order {clearance.pk} (C-233 B) is left_out; it stands."
    refused("begun_step_stands", f"DELETE FROM clearances_step {where}")


WRITTEN = [
    ("asked", "job_id = job_id + 1", "The job and the limits"),
    ("asked", "limits_words = 'All of feeder 12.'", "The job and the limits"),
    ("accepted", "limits_words = 'All of feeder 12.'", "The job and the limits"),
    ("given", "window_start = window_start - interval '1 hour'", "What was asked for under"),
    ("accepted", "crew = 'line 2'", "What was asked for under"),
    ("accepted", "alternate_id = holder_id", "What was asked for under"),
    ("released", "recall_minutes = 5", "What was asked for under"),
    ("asked", "given_at = now()", "The giving"),
    ("given", "given_at = given_at - interval '1 minute'", "The giving"),
    ("given", "state = 'asked', given_at = NULL, given_by_id = NULL", "The giving"),
    ("accepted", "given_by_id = holder_id", "The giving"),
    ("given", "accepted_at = now()", "The acceptance"),
    ("accepted", "accepted_words = 'P-251 to P-293'", "The acceptance"),
    ("accepted", "accepted_at = accepted_at - interval '1 minute'", "The acceptance"),
    ("accepted", "released_at = now()", "The release"),
    ("released", "released_at = released_at - interval '1 minute'", "The release"),
]


@pytest.mark.parametrize(("stage", "change", "what"), WRITTEN)
def test_what_was_asked_given_accepted_and_released_is_not_edited(
    tap: Tap, stage: str, change: str, what: str
) -> None:
    clearance = tap.job(stage)
    said = refused(
        "clearance_stands", f"UPDATE clearances_clearance SET {change} WHERE number = {clearance.pk}"
    )
    assert said == f"{what} of clearance {clearance.pk} can't be changed: it is {stage}."


def test_what_changes_while_a_clearance_is_out(tap: Tap) -> None:
    clearance = tap.job("accepted")
    typed(
        "UPDATE clearances_clearance SET promised_end = promised_end + interval '1 hour', telling = 2,"
        " latest_finish = latest_finish + interval '1 hour', version = version + 1, frozen_why = 'a look'"
        f" WHERE number = {clearance.pk}"
    )


def test_what_was_decided_about_a_source_stands(tap: Tap) -> None:
    clearance = tap.asked()
    typed(AGREE, clearance.pk, "the owner pulls its plug", tap.ana.pk)
    refused("history_is_kept", "UPDATE clearances_sourcedisposition SET decision = 'grounds cover it'")
    refused("history_is_kept", "DELETE FROM clearances_sourcedisposition")


@pytest.mark.parametrize(("label", "pole"), [("", "P-252"), ("G3", ""), (" ", "P-252")])
def test_a_ground_set_without_its_number_or_pole_is_stored_and_marked(
    tap: Tap, label: str, pole: str
) -> None:
    clearance = tap.job("accepted")
    typed(GROUND, clearance.pk, label, pole, "B")
    assert typed("SELECT irregular FROM clearances_groundset") == [
        ("A ground set without a number or a pole.",)
    ]


def test_a_position_is_not_reported_before_it_is_done(tap: Tap) -> None:
    ahead = REPORT.replace("'radio', clock,", "'radio', clock + interval '1 minute',")
    breaks("circuits_positionreport_done_before_entered", ahead, "C-233", "B", "open", "barrel out")
    typed(REPORT, "C-233", "B", "open", "barrel out")


@pytest.mark.parametrize(
    "table", ["clearance", "job", "tag", "groundset", "signon", "voltagetest", "interruption"]
)
def test_nothing_that_happened_is_removed(tap: Tap, table: str) -> None:
    tap.job("working")
    refused("history_is_kept", f"DELETE FROM clearances_{table}")
    no_right(f"TRUNCATE clearances_{table} CASCADE")


CHANGES = [
    ("tag", "device_id = 'C-280'", "off_at = now(), off_by = 'Sal'"),
    ("tag", "hung_at = now() - interval '1 day'", "off_at = now(), off_by = 'Sal'"),
    ("tag", "phases = 'A'", "off_at = now(), off_by = 'Sal'"),
    ("groundset", "pole = 'P-253'", "off_at = now(), off_by = 'Sal'"),
    ("groundset", "clearance_id = clearance_id + 1", "off_at = now(), off_by = 'Sal'"),
    ("signon", "name = 'Nobody'", "off_at = now()"),
    ("interruption", "off_at = off_at - interval '1 hour'", "on_at = now()"),
]


@pytest.mark.parametrize(("table", "change", "end"), CHANGES)
def test_what_was_reported_is_ended_once_and_never_changed(
    tap: Tap, table: str, change: str, end: str
) -> None:
    tap.job("working")
    if table == "interruption":
        end = "on_at = off_at"
    refused("history_is_kept", f"UPDATE clearances_{table} SET {change}")
    refused("history_is_kept", f"UPDATE clearances_{table} SET {end}, {change}")
    typed(f"UPDATE clearances_{table} SET {end}")
    refused("history_is_kept", f"UPDATE clearances_{table} SET {end}")
    refused("history_is_kept", f"UPDATE clearances_{table} SET {end.split(' =')[0]} = NULL")


def test_a_test_for_voltage_is_never_changed(tap: Tap) -> None:
    tap.job("tested")
    refused("history_is_kept", "UPDATE clearances_voltagetest SET result = 'present'")


def test_what_is_irregular_is_never_taken_away(tap: Tap) -> None:
    tap.job("accepted")
    typed("UPDATE clearances_tag SET irregular = 'The barrel hangs in the rain.'")
    refused("history_is_kept", "UPDATE clearances_tag SET irregular = ''")
    refused("history_is_kept", "UPDATE clearances_tag SET irregular = '', off_at = now(), off_by = 'Sal'")
    typed("UPDATE clearances_tag SET irregular = 'The barrel hangs in the rain. Wet by 10:40.'")


def test_positions_are_reported_once_and_never_changed(tap: Tap) -> None:
    tap.job("isolated")
    no_right("UPDATE circuits_positionreport SET position = 'closed'")
    no_right("DELETE FROM circuits_positionreport")
    no_right("TRUNCATE circuits_positionreport")


def test_the_log_is_never_changed_or_emptied_by_the_board(tap: Tap) -> None:
    """Whoever owns the tables can't either: see `test_log_tampering`."""
    tap.asked()
    no_right("UPDATE clearances_logentry SET words = 'Nothing happened.'")
    no_right("DELETE FROM clearances_logentry")
    no_right("TRUNCATE clearances_logentry")


@pytest.mark.parametrize(
    ("number", "previous"),
    [
        ("max(number)", "max(digest)"),
        ("max(number) + 2", "max(digest)"),
        ("max(number) + 1", "repeat('0', 64)"),
    ],
)
def test_a_log_entry_continues_the_chain(tap: Tap, number: str, previous: str) -> None:
    """The number again, a gap, and the right number after another entry than the last."""
    tap.asked()
    entry = (
        "INSERT INTO clearances_logentry"
        " (number, verb, words, by_id, how, entered_at, irregular, data, previous, digest)"
        f" SELECT {number}, 'remark', 'All is well.', %s, 'board', now(), '', '{{}}', {previous},"
        " repeat('1', 64) FROM clearances_logentry"
    )
    said = refused("log_is_chained", entry, tap.dana.pk)
    assert said == "This entry does not continue the operations log."
    typed(entry.replace(number, "max(number) + 1").replace(previous, "max(digest)"), tap.dana.pk)


ONCE = [
    ("tag_hung_once", "tag", ""),
    ("signed_on_once", "signon", ""),
    ("ground_set_once_at_a_pole", "groundset", ""),
    ("out_once", "interruption", ""),
    ("affected_once", "affectedpremises", ""),
    ("limit_node_once", "limit", "node_id IS NOT NULL"),
    ("limit_line_once", "limit", "line_id IS NOT NULL"),
    ("point_device_once", "isolationpoint", ""),
    ("point_place_once", "isolationpoint", "place"),
    ("step_place_once", "step", ""),
]


@pytest.mark.parametrize(("constraint", "table", "where"), ONCE)
def test_what_can_be_there_only_once(cast: Cast, constraint: str, table: str, where: str) -> None:
    """A second row the same as one that is there, but for its own number."""
    clearance = cast.job(
        "order written" if table in {"limit", "isolationpoint", "step", "affectedpremises"} else "working"
    )
    if table == "affectedpremises":
        typed(
            "INSERT INTO clearances_affectedpremises (clearance_id, premises_id, care, answered_by, plan,"
            " told) SELECT %s, id, care, '', '', 0 FROM circuits_premises LIMIT 1",
            clearance.pk,
        )
    columns = [
        name
        for (name,) in typed(
            "SELECT column_name FROM information_schema.columns WHERE table_name = %s AND is_identity = 'NO'",
            f"clearances_{table}",
        )
    ]
    values = ["'C-280'" if where == "place" and name == "device_id" else f'"{name}"' for name in columns]
    condition = f"WHERE {where}" if where and where != "place" else ""
    breaks(
        constraint,
        f"INSERT INTO clearances_{table} ({', '.join(columns)}) SELECT {', '.join(values)}"
        f" FROM clearances_{table} {condition} LIMIT 1",
    )


CHECKS = [
    ("clearance_window_in_order", "clearance", "promised_end = window_start"),
    ("clearance_window_in_order", "clearance", "latest_finish = promised_end - interval '1 minute'"),
    ("limit_node_or_line", "limit", "node_id = NULL, line_id = NULL"),
    ("limit_phases", "limit", "phases = 'BA'"),
    ("limit_phases", "limit", "phases = ''"),
    ("point_phases", "isolationpoint", "phases = 'ABD'"),
    ("step_phases", "step", "phases = 'AA'"),
    ("step_half_known", "step", "half = 'both'"),
    ("step_operation_fits_half", "step", "half = 'restore', operation = 'open'"),
    ("step_operation_fits_half", "step", "half = 'isolate', operation = 'close'"),
]


@pytest.mark.parametrize(("constraint", "table", "change"), CHECKS)
def test_what_makes_no_sense_in_a_plan(tap: Tap, constraint: str, table: str, change: str) -> None:
    tap.job("order written")
    which = "WHERE id = (SELECT min(id) FROM clearances_step)" if table == "step" else ""
    breaks(constraint, f"UPDATE clearances_{table} SET {change} {which}")


def test_what_makes_no_sense_in_a_report(tap: Tap) -> None:
    clearance = tap.job("accepted")
    end = "UPDATE clearances_tag SET off_at = now()"
    breaks("tag_off_by_someone", end)
    typed(f"{end}, off_by = 'Sal'")
    breaks("tag_phases", HANG, "CBA", clearance.pk, "C-233")
    breaks("on_after_off", "UPDATE clearances_interruption SET on_at = off_at - interval '1 second'")
    breaks("ground_phases", GROUND, clearance.pk, "G3", "P-252", "")
    breaks("test_phases", TEST, clearance.pk, "P-252", "X", "none", True)
    breaks("test_result_known", TEST, clearance.pk, "P-252", "B", "perhaps", True)
    asked = tap.asked()
    breaks("disposition_in_words", AGREE, asked.pk, "", tap.ana.pk)
    typed(AGREE, asked.pk, "grounds cover it", tap.ana.pk)
    breaks("disposition_source_once", AGREE, asked.pk, "grounds cover it", tap.ana.pk)
    breaks("person_roles_known", "UPDATE clearances_person SET roles = '{god}'")


# A state that is not in the table never gets as far as its CHECK: see `test_transitions`.
BEFORE_IT = {"clearance_state_known", "job_state_known", "order_state_known", "step_state_known"}
BEFORE_IT |= {
    "change_state_known",
    "hold_state_known",
    "do_not_operate_state_known",
    "field_clearance_state_known",
}
HERE = Path(__file__).parent
RULES = r"""
    SELECT conname FROM pg_constraint
        WHERE contype IN ('c', 'f') AND conname !~ '(_check$|_fk_)'
            AND conrelid::regclass::text ~ '^clearances_'
    UNION
    SELECT indexname FROM pg_indexes
        WHERE tablename ~ '^clearances_' AND indexdef ~ '^CREATE UNIQUE'
            AND indexname !~ '(_pkey|_key|_uniq)$'
    UNION
    SELECT (regexp_matches(prosrc, 'board_refuse\(''(\w+)''', 'g'))[1] FROM pg_proc WHERE proname ~ '^board_'
"""


def test_every_rule_of_the_database_is_tested(cast: Cast) -> None:
    """Each named CHECK, UNIQUE and FOREIGN KEY, and each rule of a trigger, stands in a test here."""
    written = "".join(path.read_text() for path in sorted(HERE.glob("test_*.py")))
    rules = {name for (name,) in typed(RULES)} - BEFORE_IT - {"flag_stands_once"}
    assert len(rules) > 50
    assert {name for name in rules if f'"{name}"' not in written} == set()
