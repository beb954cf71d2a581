"""What the desk is told without asking; nothing of it refuses anything."""

import datetime
from dataclasses import replace

from clearances.rules.facts import Path
from clearances.rules.flags import Held, HungTag, late, orphan_tags, overlaps, unexplained, upset


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
    assert texts(ANA, replace(BO, points=frozenset({"C-208", "J-207"}))) == [
        "C-208 is a point of both 41 (Ana Duarte, 555-0117) and 42 (Bo Lindqvist)."
    ]


def test_one_holder_of_two() -> None:
    assert texts(ANA, replace(BO, holder="Ana Duarte")) == [
        "Ana Duarte holds or asks for both 41 and 42 at the same time."
    ]


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
