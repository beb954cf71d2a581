"""What the desk is told without asking; nothing of it refuses anything."""

import datetime
from dataclasses import replace

from clearances.rules.facts import Hit, Path
from clearances.rules.flags import (
    Change,
    Held,
    HungTag,
    WaitingStep,
    changes_left,
    fed,
    holds_fed_too,
    late,
    meets,
    not_as_left,
    orphan_tags,
    overlaps,
    unexplained,
    upset,
)


def at(clock: str) -> datetime.datetime:
    return datetime.datetime.combine(datetime.date(2026, 5, 14), datetime.time.fromisoformat(clock))


ANA = Held(
    number=41,
    holder="Ana Duarte",
    phone="555-0117",
    out=True,
    start=at("08:30"),
    end=at("12:00"),
    limits=frozenset({("P-214", "A"), ("P-215", "A")}),
    poles={"P-214": "P-214", "P-215": "P-215"},
    points=frozenset({"C-208", "C-221"}),
    people=frozenset({"Sal Moreno"}),
)
BO = replace(
    ANA,
    number=42,
    holder="Bo Lindqvist",
    phone="",
    limits=frozenset({("P-207", "A")}),
    poles={"P-207": "P-207"},
    points=frozenset({"J-207"}),
    people=frozenset(),
)


def texts(*held: Held) -> list[str]:
    return [flag.text for flag in overlaps(held)]


def test_two_clearances_apart_raise_nothing() -> None:
    assert texts(ANA, BO) == []


def test_limits_in_common() -> None:
    assert texts(replace(BO, limits=frozenset({("P-215", "A")})), ANA) == [
        (
            "The limits of 41 (Ana Duarte, 555-0117) and 42 (Bo Lindqvist) overlap at P-215: the grounds and "
            "the release of both are needed."
        )
    ]


def test_the_same_pole_on_another_phase_is_no_overlap() -> None:
    assert texts(ANA, replace(BO, limits=frozenset({("P-215", "B")}))) == []


def test_a_point_in_common() -> None:
    (text,) = texts(ANA, replace(BO, points=frozenset({"C-208", "J-207"}), end=at("15:00")))
    assert text == (
        "C-208 is a point of both 41 (Ana Duarte, 555-0117) and 42 (Bo Lindqvist): it stays open until both "
        "are released, 14 May 15:00 as promised."
    )


def test_one_holder_of_two_sites() -> None:
    hers = replace(BO, holder="Ana Duarte", start=at("09:00"))
    (text,) = texts(ANA, hers)
    assert text == (
        "Ana Duarte holds or asks for both 41 and 42, which have no pole in common, 14 May 09:00 to 12:00: "
        "the second is not given while the first is out."
    )
    # Two circuits on one pole are one site.
    assert texts(ANA, replace(hers, poles={"P-207": "P-214"})) == []


def test_one_crew_for_two_sites() -> None:
    one, other = replace(ANA, crew="line 1"), replace(BO, crew="Line 1", start=at("11:00"), end=at("15:00"))
    (text,) = texts(one, other)
    assert text == (
        "41 (Ana Duarte, 555-0117) and 42 (Bo Lindqvist), which have no pole in common, are both asked for "
        "line 1, 14 May 11:00 to 12:00."
    )
    assert texts(one, replace(other, poles={"P-207": "P-214"})) == []
    assert texts(one, replace(other, crew="line 2")) == []
    # Out past its promised end, it meets the other now.
    assert texts(one, replace(other, start=at("12:30")))[0].endswith("are both asked for line 1, now.")


def test_one_person_on_two() -> None:
    assert texts(ANA, replace(BO, people=frozenset({"Sal Moreno"}))) == [
        "Sal Moreno is signed on under both 41 (Ana Duarte, 555-0117) and 42 (Bo Lindqvist)."
    ]


def test_windows_apart_raise_nothing_unless_both_are_out() -> None:
    afternoon = replace(BO, start=at("12:00"), end=at("15:00"), points=ANA.points)
    assert texts(replace(ANA, out=False), replace(afternoon, out=False)) == []
    assert texts(ANA, replace(afternoon, out=False)) == []
    assert len(texts(ANA, afternoon)) == 1
    assert len(texts(replace(ANA, out=False), replace(afternoon, out=False, start=at("11:59")))) == 1


def test_past_the_promised_end() -> None:
    assert [flag.text for flag in late([ANA], at("12:01"))] == [
        "Clearance 41 (Ana Duarte, 555-0117) is 1 min past its promised end."
    ]
    assert [flag.text for flag in late([ANA], at("14:05"))] == [
        "Clearance 41 (Ana Duarte, 555-0117) is 2 h 5 min past its promised end."
    ]
    assert list(late([ANA], at("12:00"))) == []
    assert list(late([replace(ANA, out=False)], at("14:05"))) == []


def test_a_tag_without_a_clearance() -> None:
    tag = HungTag("41-2", "C-221", "ABC", 41, over_since=at("11:38"))
    assert [flag.text for flag in orphan_tags([tag], at("12:09"))] == [
        "Tag 41-2 is still on C-221 A, B, C, but clearance 41 is over."
    ]
    assert list(orphan_tags([tag], at("12:08"))) == []
    assert list(orphan_tags([replace(tag, over_since=None)], at("23:59"))) == []


def test_a_position_that_nothing_accounts_for() -> None:
    tag = HungTag("41-2", "C-221", "ABC", 41, over_since=None)
    found = unexplained({"C-233": "B", "C-221": "ABC", "C-208": "A"}, [tag], in_orders={"C-208"})
    assert [flag.text for flag in found] == [
        "C-233 B is out of its normal position, with no tag and no order that says why."
    ]


def test_an_order_that_leaves_its_limits_fed() -> None:
    path = Path("ST-1", "AB", "feeder 14 > P-286 > P-215")
    (flag,) = upset([(41, "Ana Duarte", (path,)), (42, "Bo Lindqvist", ())])
    assert (flag.code, flag.level, flag.clearance) == ("plan_leaves_source", "soon", 41)
    assert flag.text == (
        "With every point of order 41 (Ana Duarte) open and tagged, phases A, B are still fed on the "
        "network as it is now: feeder 14 > P-286 > P-215."
    )


def test_a_hold_whose_line_is_also_fed_from_elsewhere() -> None:
    what = "P-278, phase A is also fed another way than over R-31: feeder 12 > N-7"
    (flag,) = holds_fed_too([Hit(what, 0, "Bo Lindqvist", "555-0131", "hot-line hold HL-7")])
    assert (flag.code, flag.about, flag.level) == ("hold_fed_another_way", "hot-line hold HL-7", "now")
    assert flag.text == (f"{what}. Call Bo Lindqvist, 555-0131, who has hot-line hold HL-7 there.")


def test_load_that_is_picked_up_from_what_another_order_opens() -> None:
    hit = Hit("With the points of both open 40 customers are out whom neither counts", 51, "Bo Lindqvist")
    (flag,) = meets([(41, "Ana Duarte", (hit,)), (42, "Bo Lindqvist", ())])
    assert (flag.code, flag.level, flag.clearance) == ("pick_up_meets_other", "soon", 41)
    assert flag.text == (
        "With the points of both open 40 customers are out whom neither counts: order 41 (Ana Duarte) and "
        "clearance 51 (Bo Lindqvist)."
    )


def test_a_tie_that_picks_load_up_normally_stands_open() -> None:
    tie = WaitingStep(41, 1, "close", "N-7", "ABC", "ABC", picks_up=True)
    assert not list(not_as_left([tie], {"N-7": "ABC"}, ()))
    (flag,) = not_as_left([tie], {"N-7": "ABC"}, {"N-7"})
    assert "which would join unlike phases" in flag.text


def test_limits_that_are_fed_while_the_clearance_is_out() -> None:
    path = Path("ST-1", "C", "feeder 12 > P-286 > P-215")
    (flag,) = fed([(41, "Ana Duarte", (path,)), (42, "Bo Lindqvist", ())])
    assert (flag.code, flag.level, flag.clearance) == ("limits_fed", "now", 41)
    assert flag.text == "Under clearance 41 (Ana Duarte) phase C is fed: feeder 12 > P-286 > P-215."


def test_an_order_that_was_written_for_an_older_network() -> None:
    steps = [
        WaitingStep(41, 2, "open", "F-217", "B", "C"),
        WaitingStep(41, 3, "open", "S-217", "B", "B"),
        WaitingStep(41, 11, "remove_tag", "F-217", "B", "C"),
        WaitingStep(41, 12, "close", "S-217", "B", "B"),
        WaitingStep(41, 13, "close", "N-15", "ABC", "ABC"),
        WaitingStep(41, 14, "close", "C-221", "ABC", "ABC"),
    ]
    flags = list(not_as_left(steps, {"S-217": "B", "N-15": "AB"}, ["S-217"]))
    assert [flag.text for flag in flags] == [
        "Step 2 of order 41 is for F-217, which has C now, not B, as the network was left.",
        "Step 12 of order 41 closes S-217, which would join unlike phases as the network was left.",
        "Step 13 of order 41 closes N-15, which normally stands open on A, B as the network was left.",
    ]
    assert {(flag.code, flag.level) for flag in flags} == {("order_not_as_left", "now")}


def test_a_change_that_the_board_has_otherwise_and_a_jumper_that_has_stayed_too_long() -> None:
    change = Change(3, "set N-15", 41, "built between P-215 and P-216.", until=None)
    (flag,) = changes_left([change], at("12:00"))
    assert flag.text == (
        "Change set 3 (set N-15) is not in the network as it stands: built between P-215 and P-216."
    )
    jumper = replace(change, unsettled="", until=at("12:00"))
    assert list(changes_left([jumper], at("12:00"))) == []
    (late_one,) = changes_left([jumper], at("12:01"))
    assert late_one.text == "Change set 3 (set N-15) was to stay until 14 May 12:00."
    assert {one.level for one in (flag, late_one)} == {"now"}
