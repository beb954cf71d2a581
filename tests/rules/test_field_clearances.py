"""A field clearance: one crew, one disconnect in sight, no second source and nobody else inside
(29 CFR 1910.269(m)(2)(ii) to (iv), seen)."""

from typing import Any

import pytest

from clearances.rules.field_clearances import may_end, may_start, no_field_clearance_inside

from .cases import Case, Refusals

III = "29 CFR 1910.269(m)(2)(iii)"
IV = "29 CFR 1910.269(m)(2)(iv)"


def start(**changes: Any) -> Refusals:
    fine: dict[str, Any] = {
        "holder": "Ana Duarte", "qualified": True, "device": "F-210", "phases": "A", "stands_open": "A",
        "in_sight": True, "one_crew": True,
    }  # fmt: skip
    return may_start(**fine | changes)


def end(**changes: Any) -> Refusals:
    fine: dict[str, Any] = {
        "number": "FC-2", "state": "on", "holder": "Ana Duarte", "is_holder": True, "all_off": True,
    }  # fmt: skip
    return may_end(**fine | changes)


TIE = "feeder 12 > C-221 > F-219 > S-217 (phase B)"
CASES = [
    Case(
        "holder_not_qualified",
        start(qualified=False),
        start(),
        about="Ana Duarte",
        text="Ana Duarte is not qualified to hold a clearance today.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="Somebody who is takes charge",
    ),
    Case(
        "not_open",
        start(stands_open=""),
        start(),
        about="F-210",
        text="F-210 is not reported open on A.",
        clause=III,
        mark="seen",
        way_past="Open it and report it",
    ),
    Case(
        "not_in_sight",
        start(in_sight=False),
        start(),
        about="F-210",
        text="F-210 is not in sight of the work and under Ana Duarte's own control.",
        clause=III,
        mark="seen",
        way_past="Ask the desk for a clearance",
    ),
    Case(
        "more_than_one_crew",
        start(one_crew=False),
        start(),
        about="F-210",
        text="More than one crew is to work beyond F-210.",
        clause=IV,
        mark="seen",
        way_past="Ask the desk for a clearance",
    ),
    Case(
        "second_source",
        start(device="F-217", phases="B", stands_open="B", ways=(TIE,)),
        start(device="F-217", phases="B", stands_open="B"),
        about="F-217",
        text=f"With F-217 open a source still reaches what is beyond it: {TIE}.",
        clause="29 CFR 1910.269(m)(3)(ii)",
        mark="seen",
        way_past="with every point",
    ),
    Case(
        "not_sole_control",
        start(at_device=("tag 41-1 of clearance 41 (Bo Lindqvist, 555-0142) is on it",)),
        start(),
        about="F-210",
        text="F-210 is not under Ana Duarte's sole control: tag 41-1 of clearance 41 (Bo Lindqvist, "
        "555-0142) is on it.",
        clause=III,
        mark="seen",
        way_past="Ask the desk for a clearance",
    ),
    Case(
        "others_inside",
        start(inside=("clearance 41 (Bo Lindqvist, 555-0142)",)),
        start(),
        about="F-210",
        text="Others work beyond F-210: clearance 41 (Bo Lindqvist, 555-0142).",
        clause=IV,
        mark="seen",
        way_past="Ask the desk for a clearance",
    ),
    Case(
        "ended_before",
        end(state="ended"),
        end(),
        about="FC-2",
        text="Field clearance FC-2 was ended before.",
        clause=III,
        mark="seen",
        way_past="as it stands",
    ),
    Case(
        "not_the_holder",
        end(is_holder=False),
        end(),
        about="Ana Duarte",
        text="Field clearance FC-2 is Ana Duarte's: nobody else ends it.",
        clause="29 CFR 1910.269(m)(3)(xi)",
        mark="from memory",
        way_past="says it by voice",
    ),
    Case(
        "not_all_off",
        end(all_off=False),
        end(),
        about="Ana Duarte",
        text="Not everybody and every ground set is off beyond the device of field clearance FC-2.",
        clause="29 CFR 1910.269(m)(3)(x)",
        mark="from memory",
        way_past="Have them off first",
    ),
    Case(
        "field_clearance_inside",
        no_field_clearance_inside(41, (("FC-2", "Ana Duarte, 555-0117"),)),
        no_field_clearance_inside(41, ()),
        about="FC-2",
        text="Inside the limits of clearance 41 Ana Duarte, 555-0117, works under field clearance FC-2.",
        clause=IV,
        mark="seen",
        way_past="ended by its holder",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refused_for_one_reason_that_has_a_way_past(case: Case) -> None:
    case.check()
