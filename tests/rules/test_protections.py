"""What a hot-line hold, a customer's do-not-operate and a field clearance have against an order at their
device, and against a close elsewhere (practice: scenarios of the hold and the recloser, of the customer's
electrician, of the field clearance)."""

from dataclasses import replace

import pytest

from clearances.rules.facts import Hit, Step
from clearances.rules.protections import AtDevice, DoNotOperate, FieldClearance, HotLineHold, may_operate
from clearances.rules.steps import may_give_step

from .cases import ISOLATE, Case, clearance

OPEN_R31 = Step("isolate", 1, "open", "R-31", "ABC", "waiting", "60-1")
CLOSE_R31 = Step("restore", 4, "close", "R-31", "ABC", "waiting", "60-1")
BO = HotLineHold("HL-7", "Bo Lindqvist", "555-0142")
PLANT = DoNotOperate("DNO-3", "Iris Novak", "Novak Electric", "555-0177")
ANA = FieldClearance("FC-2", "Ana Duarte", "555-0117")
BO_HIT = Hit("the line P-278 to P-279", 0, "Bo Lindqvist", "555-0142", "hot-line hold HL-7")
ANA_HIT = Hit("what is beyond F-276", 0, "Ana Duarte", "555-0117", "field clearance FC-2")

CASES = [
    Case(
        "hold_not_asked",
        may_operate(OPEN_R31, AtDevice(holds=(BO,))),
        may_operate(OPEN_R31, AtDevice(holds=(replace(BO, answered=True),))),
        about="R-31",
        text="R-31 can't be ordered open: beyond it Bo Lindqvist, 555-0142, works energized under hot-line "
        "hold HL-7 and has not said lately whether they stand down or stay.",
        clause="hot-line hold",
        mark="common practice",
        way_past="Call Bo Lindqvist, 555-0142",
    ),
    Case(
        "hold_not_reached",
        may_operate(CLOSE_R31, AtDevice(holds=(replace(BO, answered=True),))),
        may_operate(CLOSE_R31, AtDevice(holds=(replace(BO, agreed=True),))),
        about="R-31",
        text="R-31 can't be ordered closed, nor test closed: beyond it Bo Lindqvist, 555-0142, works under "
        "hot-line hold HL-7 and has not said yes to it.",
        clause="hot-line hold",
        mark="common practice",
        way_past="Reach Bo Lindqvist, 555-0142",
    ),
    Case(
        "close_energizes_hold",
        may_operate(CLOSE_R31, AtDevice(), (BO_HIT,)),
        may_operate(CLOSE_R31, AtDevice(), (replace(BO_HIT, agreed=True),)),
        about="the line P-278 to P-279",
        text="Closing R-31 ABC would energize the line P-278 to P-279 (hot-line hold HL-7, Bo Lindqvist, "
        "555-0142).",
        clause="hot-line hold",
        mark="common practice",
        way_past="Reach Bo Lindqvist, 555-0142",
    ),
    Case(
        "do_not_operate",
        may_operate(CLOSE_R31, AtDevice(do_not_operates=(PLANT,))),
        may_operate(CLOSE_R31, AtDevice()),
        about="R-31",
        text="R-31 can't be ordered closed: do-not-operate DNO-3 is on it for Iris Novak of Novak Electric, "
        "555-0177.",
        clause="customer's do-not-operate",
        mark="common practice",
        way_past="Iris Novak gives it back, met on site, and nobody else",
    ),
    Case(
        "under_field_clearance",
        may_operate(OPEN_R31, AtDevice(field_clearances=(ANA,))),
        may_operate(OPEN_R31, AtDevice()),
        about="R-31",
        text="R-31 is under the sole control of Ana Duarte, 555-0117 (field clearance FC-2): no order "
        "operates it.",
        clause="29 CFR 1910.269(m)(2)(iii)",
        mark="seen",
        way_past="Ana Duarte has everybody off and ends field clearance FC-2",
    ),
    Case(
        "close_energizes_field_clearance",
        may_operate(CLOSE_R31, AtDevice(), (ANA_HIT,)),
        may_operate(CLOSE_R31, AtDevice()),
        about="what is beyond F-276",
        text="Closing R-31 ABC would energize what is beyond F-276 (field clearance FC-2, Ana Duarte, "
        "555-0117).",
        clause="29 CFR 1910.269(m)(3)(xiii)",
        mark="from memory",
        way_past="Ana Duarte has everybody off and ends field clearance FC-2",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refused_for_one_reason_that_has_a_way_past(case: Case) -> None:
    case.check()


def test_of_a_field_clearance_every_operation_is_refused() -> None:
    """Sole control: nothing is opened, checked, untagged or closed there by order."""
    for operation in ("open", "check_open", "remove_tag", "close"):
        step = replace(CLOSE_R31, operation=operation)
        assert [one.code for one in may_operate(step, AtDevice(field_clearances=(ANA,)))] == [
            "under_field_clearance"
        ]


def test_looking_at_a_device_and_hanging_a_tag_there_operates_nothing() -> None:
    """Two kinds of tag on one device: the clearance's own is hung beside the hold tag."""
    both = AtDevice(holds=(BO,), do_not_operates=(PLANT,))
    for operation in ("check_open", "remove_tag"):
        assert may_operate(replace(OPEN_R31, operation=operation), both) == ()


def test_a_customer_s_do_not_operate_is_not_against_opening() -> None:
    assert may_operate(OPEN_R31, AtDevice(do_not_operates=(PLANT,))) == ()


def test_an_answer_about_opening_is_no_yes_to_closing() -> None:
    (refusal,) = may_operate(CLOSE_R31, AtDevice(holds=(replace(BO, answered=True),)))
    assert refusal.code == "hold_not_reached"
    (refusal,) = may_operate(OPEN_R31, AtDevice(holds=(replace(BO, agreed=True),)))
    assert refusal.code == "hold_not_asked"


def test_every_holder_is_asked_and_each_is_named_once() -> None:
    """Of two crews under holds at one recloser the one that has answered does not answer for the other."""
    other = replace(BO, number="HL-8", holder="Ana Duarte", phone="", agreed=True)
    found = may_operate(CLOSE_R31, AtDevice(holds=(BO, other)), (BO_HIT,))
    assert [one.code for one in found] == ["hold_not_reached"]
    assert other.reach == "Ana Duarte"


def test_hits_are_nothing_against_a_step_that_does_not_close() -> None:
    assert may_operate(OPEN_R31, AtDevice(holds=(replace(BO, answered=True),)), (BO_HIT, ANA_HIT)) == ()


def test_a_step_under_a_clearance_is_asked_for_all_of_them() -> None:
    step = replace(ISOLATE[0], device="R-31")
    under = clearance(steps=(step,))
    said = may_give_step(under, step, tags_at_device=(), open_now="", beside=AtDevice(holds=(BO,)))
    assert [one.code for one in said] == ["hold_not_asked"]
    close = replace(CLOSE_R31, place=1)
    released = clearance(state="released", steps=(close,))
    said = may_give_step(released, close, tags_at_device=(), open_now="ABC", hits=(BO_HIT, ANA_HIT))
    assert [one.code for one in said] == ["close_energizes_hold", "close_energizes_field_clearance"]
