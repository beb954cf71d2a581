"""Which refusals of the rules the database refuses as well, by which named rule of its own; and why not the
others. That these bite is tested with SQL typed by hand, in `tests/clearances/test_database_*` and beside
the verbs' own tests."""

import re
from pathlib import Path

from .test_every_code import TABLES

ROOT = Path(__file__).resolve().parents[2]

HALVES: dict[str, dict[str, str]] = {
    "asking": {
        "holder_not_qualified": "holder_qualified",
        "window_out_of_order": "clearance_window_in_order",
    },
    "asleft": {
        "change_not_planned": "change_state_moves",
        "change_not_standing": "change_state_moves",
    },
    "blown": {"patrol_first": "patrol_after_second_blow"},
    "correcting": {
        "not_the_holder": "never_on_by_holder",
        "no_second_person": "never_on_by_a_second",
        "set_not_on": "history_is_kept",
    },
    "do_not_operate": {
        "not_open": "do_not_operate_on_open",
        "operable": "do_not_operate_on_open",
        "close_ordered": "do_not_operate_with_no_close",
        "not_named": "do_not_operate_named",
        "given_back_before": "do_not_operate_state_moves",
        "not_met": "do_not_operate_met",
    },
    "field_clearances": {
        "holder_not_qualified": "field_clearance_holder_qualified",
        "not_open": "field_clearance_on_open",
        "not_sole_control": "field_clearance_sole_control",
        "others_inside": "field_clearance_alone",
        "ended_before": "field_clearance_state_moves",
        "not_the_holder": "field_clearance_ended_by_holder",
        "field_clearance_inside": "given_with_no_field_clearance",
    },
    "giving": {
        "not_asked": "clearance_state_moves",
        "order_not_checked": "given_on_checked_order",
        "holder_not_qualified": "holder_qualified",
        "earlier_stage_out": "earlier_stage_released",
        "pick_up_not_done": "given_after_pick_ups",
        "not_given": "clearance_state_moves",
        "no_read_back": "clearance_accepted_in_words",
        "not_frozen": "clearance_state_moves",
        "voltage_present": "no_voltage_found",
        "close_ordered": "given_with_no_close_ordered",
        "no_points": "given_with_points",
        "point_not_complete": "given_with_every_point",
    },
    "holders": {
        "holder_elsewhere": "holder_at_one_site",
        "not_exchanged": "contractor_told",
        "own_exchange": "contractor_told",
        "exchange_in_part": "exchange_in_full",
    },
    "holds": {
        "holder_not_qualified": "hold_holder_qualified",
        "nothing_to_block": "hold_blocks_something",
        "not_asked": "hold_state_moves",
        "device_being_operated": "hold_with_no_step_out",
        "reclosing_not_off": "hold_with_reclosing_off",
        "no_hold_tag": "hold_with_its_tag",
        "not_given": "hold_state_moves",
        "not_the_holder": "hold_given_back_by_holder",
        "no_read_back": "hold_accepted_in_words",
        "not_accepted": "hold_state_moves",
    },
    "orders": {
        "point_without_step": "given_with_every_point",
        "checker_is_writer": "order_checked_by_another",
        "order_not_draft": "order_state_moves",
        "joins_unlike_phases": "no_tie_of_unlike_phases",
        "steps_stand": "checked_order_is_fixed",
    },
    "protections": {
        "under_field_clearance": "no_order_at_field_clearance",
        "hold_not_asked": "no_open_unasked",
        "hold_not_reached": "no_close_unreached",
        "do_not_operate": "no_close_with_do_not_operate",
    },
    "release": {
        "not_held": "clearance_state_moves",
        "not_the_holder": "clearance_released_by_holder",
        "ground_on": "released_with_grounds_off",
        "person_on": "released_with_people_off",
        "next_stage_unprotected": "next_stage_protected",
    },
    "rollcall": {"holder_silent": "roll_call_answered"},
    "steps": {
        "device_being_operated": "one_step_given_a_device",
        "joins_unlike_phases": "no_tie_of_unlike_phases",
        "order_not_checked": "step_from_checked_order",
        "step_unreported": "one_step_given_at_a_time",
        "step_out_of_order": "step_in_its_turn",
        "life_support_unanswered": "life_support_answered",
        "position_not_as_expected": "check_open_of_what_stands_open",
        "isolate_after_given": "isolate_before_given",
        "not_released": "restore_after_release",
        "tie_in_use": "tie_in_use",
        "tag_at_point": "no_close_with_tag",
        "point_held": "no_close_at_held_point",
        "ground_on": "no_close_with_ground",
        "person_on": "no_close_with_person",
        "phases_not_as_left": "step_for_phases_there",
        "change_not_confirmed": "restore_as_left",
    },
    "troubles": {"trouble_over": "nothing_promised_after_the_end"},
}

# What the database can't see, or what orders nothing: DEVELOPERS.md says the same in its list.
WHY_NOT: dict[str, dict[str, set[str]]] = {
    "the network would have to be traced": {
        "asleft": {"network_can_not_be", "change_not_in_network"},
        "field_clearances": {"second_source"},
        "giving": {"source_not_blocked"},
        "holds": {"not_on_the_way", "fed_another_way"},
        "orders": {"plan_leaves_source", "step_does_not_follow", "pick_up_meets_other"},
        "protections": {"close_energizes_field_clearance", "close_energizes_hold"},
        "steps": {"close_energizes", "customers_not_counted"},
    },
    "a spoken word that no row keeps apart from its speaker": {
        "asleft": {"not_the_holder"},
        "do_not_operate": {"not_the_named_person"},
        "field_clearances": {"not_in_sight", "more_than_one_crew", "not_all_off"},
        "giving": {"not_the_holder"},
        "holds": {"crew_not_told"},
        "orders": {"not_the_writer"},
        "queued": {"not_from_a_queue"},
        "release": {"statements_missing"},
    },
    "it orders nothing": {
        "asking": {"same_limits", "window_past"},
        "asleft": {"change_settled"},
        "given": {"no_such_time", "not_legible", "too_long"},
        "holders": {"exchange_ahead"},
        "troubles": {"promise_past", "next_word_past", "nothing_promised"},
    },
}


def in_database() -> set[str]:
    """The names of all rules and constraints that the migrations make."""
    sql = "".join(path.read_text() for path in (ROOT / "clearances/migrations/sql").glob("*.sql"))
    models = "".join(path.read_text() for path in (ROOT / "clearances/models").glob("*.py"))
    moves = {f"{kind}_state_moves" for kind in re.findall(r"board_state_moves\('(\w+)'\)", sql)}
    return moves | set(re.findall(r"board_refuse\('(\w+)'", sql)) | set(re.findall(r'name="(\w+)"', models))


def test_every_refusal_has_its_half_in_the_database_or_a_reason() -> None:
    made = {module: {case.code for case in cases} for module, cases in TABLES.items()}
    told: dict[str, set[str]] = {module: set(codes) for module, codes in HALVES.items()}
    for reasons in WHY_NOT.values():
        for module, codes in reasons.items():
            assert not told.get(module, set()) & codes, module
            told[module] = told.get(module, set()) | codes
    assert told == made


def test_the_named_halves_are_there() -> None:
    named = {name for codes in HALVES.values() for name in codes.values()}
    assert named <= in_database(), named - in_database()


def test_the_map_lists_what_has_none() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    for why, modules in WHY_NOT.items():
        listed = text.partition(f"- {why}: ")[2].partition("\n- ")[0].partition("\n\n")[0]
        assert set(re.findall(r"`(\w+)`", listed)) == {code for codes in modules.values() for code in codes}
