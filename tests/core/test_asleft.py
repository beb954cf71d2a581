"""Changes as the trade makes them, on the rows of the demo network: the example's change set first, held
against the network "as left" that `test_example_after` writes out by hand."""

from decimal import Decimal
from typing import Any

import pytest

from circuits import asleft, checks, packagefile
from circuits.asleft import CannotBeError, Changes, Rows, laid_over, made
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.parallels import parallels
from circuits.core.trace import trace
from circuits.proving import Proved, prove
from tests.core.conftest import DEMO
from tests.core.test_example import customers
from tests.core.test_example_after import AT_11_41, as_left

# At 11:20: the tie's normal position first, since across unlike phases it may not normally stand closed.
AT_11_20: tuple[tuple[str, dict[str, str]], ...] = (
    ("normal_position", {"device": "S-217", "position": "open"}),
    ("move_transformer", {"transformer": "T-217", "phases": "C"}),
    ("set_switch", {"line": "L-214-215", "device": "N-15"}),
)


@pytest.fixture(scope="module")
def rows() -> Rows:
    checked = checks.check(packagefile.read(DEMO))
    return {
        name: {next(iter(row.values.values())): row.values for row in found}
        for name, found in checked.rows.items()
        if name != "contacts"
    }


def planned(rows: Rows, name: str, **given: str) -> Changes:
    return made(rows, [(name, given)])


def cells(changes: Changes, ident: str) -> dict[str, Any]:
    """The cells of a row that a change alters, with their new values."""
    (change,) = [one for one in changes if one.id == ident]
    assert change.after
    return {name: change.after[name] for name in change.columns}


def judged(rows: Rows, demo: Compiled, *named: tuple[str, dict[str, str]]) -> Proved:
    return prove(rows, made(rows, named), demo)


class TestTheExample:
    """Appendix 1 at 11:20: N-15 set and standing open, T-217's tap moved to phase C."""

    @pytest.fixture
    def left(self, rows: Rows, demo: Compiled) -> Compiled:
        proved = judged(rows, demo, *AT_11_20)
        assert proved.faults == ()
        assert proved.compiled
        return proved.compiled

    @pytest.mark.parametrize(
        "opened", [{}, AT_11_41, {"C-221": "AB"}, {"C-208": "ABC"}, {"C-221": "ABC", "D-219": "B"}]
    )
    def test_it_is_the_network_as_left(self, demo: Compiled, left: Compiled, opened: dict[str, str]) -> None:
        """Written by hand the span is gone; by the trade's change its two parts end at the switch."""
        by_hand = compile_network(as_left(demo.network))
        hand, trade = (trace(one, normally_open(one.network) | opened) for one in (by_hand, left))
        assert {point: trade.answer(*point) for point in by_hand.points} == {
            point: hand.answer(*point) for point in by_hand.points
        }
        assert {name: (one.answer, one.out) for name, one in trade.premises().items()} == {
            name: (one.answer, one.out) for name, one in hand.premises().items()
        }
        assert parallels(trade).sentences == parallels(hand).sentences

    def test_c_208_no_longer_feeds_beyond_n_15(self, left: Compiled) -> None:
        state = trace(left, normally_open(left.network) | {"C-221": "ABC", "D-219": "B"})
        out = {name: sum(one.out for one in found) for name, found in customers(left, state).items()}
        assert out == {
            "T-210": 0, "T-212": 0, "T-213": 0, "T-217": 9, "T-218": 1, "T-219": 10, "T-220": 19,
        }  # fmt: skip

    def test_each_customer_is_moved_and_none_twice(self, demo: Compiled, left: Compiled) -> None:
        assert sum(map(len, customers(left, trace(left, {})).values())) == 62
        assert left.network.customers == demo.network.customers

    def test_the_rows_that_change(self, rows: Rows) -> None:
        changes = made(rows, AT_11_20)
        assert {(one.table, one.id) for one in changes if one.before is None} == {
            ("nodes", "N-15-1"), ("nodes", "N-15-2"), ("lines", "L-214-215-N-15"), ("devices", "N-15"),
        }  # fmt: skip
        assert cells(changes, "S-217") == {"normal_position": "open"}
        for ident in ("T-217", "P-217t", "T-217s", "F-217"):
            assert cells(changes, ident) == {"phases": "C"}
        assert cells(changes, "L-214-215") == {"to_node": "N-15-1", "length_m": Decimal("21.05")}

    def test_the_tie_left_normally_closed_is_refused(self, rows: Rows, demo: Compiled) -> None:
        faults = judged(rows, demo, *AT_11_20[1:]).faults
        (fault,) = faults
        assert fault == (
            "S-217 (phases B) does not fit: expected a tie of like phases: T-217s derives from C, "
            "T-219s from B; or one that normally stands open."
        )


class TestATransformerMoved:
    def test_to_another_pole_its_cutout_goes_with_it(self, rows: Rows) -> None:
        """S23: a new tap."""
        changes = planned(rows, "move_transformer", transformer="T-217", phases="B", at_node="P-213")
        assert [(one.id, cells(changes, one.id)) for one in changes] == [("F-217", {"from_node": "P-213"})]

    def test_without_a_cutout_of_its_own_it_goes_itself(self, rows: Rows) -> None:
        bare = made(rows, [("remove_device", {"device": "F-217"})])
        moved = dict(rows["transformers"]["T-217"]) | {"primary_node": "P-217"}
        on_the_line = laid_over(rows, bare) | {"transformers": {"T-217": moved}}
        changes = planned(on_the_line, "move_transformer", transformer="T-217", phases="C", at_node="P-216")
        assert cells(changes, "T-217") == {"phases": "C", "primary_node": "P-216"}
        assert "P-217t" not in {one.id for one in changes}

    def test_machines_and_disconnects_behind_it_follow(self, rows: Rows) -> None:
        changes = planned(rows, "move_transformer", transformer="T-219", phases="A")
        assert {one.id for one in changes} == {"T-219", "P-219t", "T-219s", "F-219", "D-219", "GEN-219"}
        assert cells(changes, "D-219") == {"phases": "A"}

    def test_a_tie_of_like_phases_again_takes_them(self, rows: Rows, demo: Compiled) -> None:
        both = [("move_transformer", {"transformer": name, "phases": "C"}) for name in ("T-217", "T-219")]
        assert cells(made(rows, both), "S-217") == {"phases": "C"}
        assert judged(rows, demo, *both).faults == ()

    def test_services_of_named_phases_and_letters_of_a_position_turn_with_it(self, rows: Rows) -> None:
        changes = made(
            laid_over(
                rows,
                [
                    *made(rows, [("normal_position", {"device": "F-217", "position": "B"})]),
                    asleft.rows.changed(rows, "premises", "1144", phases="B"),
                ],
            ),
            [("move_transformer", {"transformer": "T-217", "phases": "A"})],
        )
        assert cells(changes, "F-217") == {"phases": "A", "normal_position": "A"}
        assert cells(changes, "1144") == {"phases": "A"}

    def test_a_bank_turned_keeps_the_order_of_its_phases_in_words(self, rows: Rows) -> None:
        assert planned(rows, "move_transformer", transformer="T-218", phases="ABC") == ()

    def test_to_more_phases_than_it_has_is_no_move(self, rows: Rows) -> None:
        with pytest.raises(CannotBeError, match=r"T-217 has 1 primary phases, not 2\."):
            planned(rows, "move_transformer", transformer="T-217", phases="AB")


class TestWhatBreaksTheNetwork:
    def test_a_phase_that_the_line_has_not(self, rows: Rows, demo: Compiled) -> None:
        one_phase = next(
            one for one in rows["lines"].values() if one["phases"] == "B" and one["placement"] == "overhead"
        )
        (fault,) = judged(
            rows,
            demo,
            (
                "add_device",
                {
                    "device": "C-9", "from_node": one_phase["from_node"], "to_node": one_phase["to_node"],
                    "kind": "cutout", "phases": "C",
                },
            ),
        ).faults[-1:]  # fmt: skip
        assert "expected phases of node" in fault

    def test_a_span_taken_away_leaves_what_hung_on_it_unfed(self, rows: Rows, demo: Compiled) -> None:
        apart = ("normal_position", {"device": "C-221", "position": "open"})
        faults = judged(rows, demo, apart, ("remove_span", {"line": "L-214-215"})).faults
        assert "No station would feed P-215 phases A, B, C in normal position any more." in faults

    def test_a_device_that_something_refers_to(self, rows: Rows, demo: Compiled) -> None:
        faults = judged(rows, demo, ("remove_device", {"device": "D-219"})).faults
        assert faults == ("GEN-219 (device id D-219) does not fit: expected the id of a row of devices.",)

    def test_a_conductor_that_nobody_knows(self, rows: Rows, demo: Compiled) -> None:
        span = {"line": "L-9", "from_node": "P-213", "to_node": "P-216", "phases": "ABC",
                "conductor": "string", "length_m": "80"}  # fmt: skip
        assert judged(rows, demo, ("add_span", span)).faults == (
            "L-9 (conductor string) does not fit: expected the id of a row of conductors.",
        )
        assert judged(rows, demo, ("add_span", span | {"conductor": "1/0 ACSR"})).faults == ()

    @pytest.mark.parametrize(
        ("name", "given", "why"),
        [
            ("remove_span", {"line": "L-0"}, "There is no row L-0 among the lines of the network."),
            ("set_switch", {"line": "L-214-215", "device": "C-208"}, "C-208 is among the devices"),
            ("change_link", {"device": "", "link": "25K"}, "There is no row (no number) among"),
            (
                "normal_position",
                {"device": "C-208", "position": "shut"},
                "devices: normal position «shut» is not closed, open, or the letters",
            ),
        ],
    )
    def test_rows_that_are_not_so(self, rows: Rows, name: str, given: dict[str, str], why: str) -> None:
        with pytest.raises(CannotBeError) as caught:
            planned(rows, name, **given)
        assert why in str(caught.value)


class TestSmallChanges:
    def test_a_link(self, rows: Rows) -> None:
        assert cells(planned(rows, "change_link", device="C-208", link="25K"), "C-208") == {"link": "25K"}

    def test_a_temporary_jumper_says_whose_it_is(self, rows: Rows, demo: Compiled) -> None:
        (jumper,) = planned(
            rows, "temporary_jumper", device="J-9", from_node="P-213", to_node="P-216", phases="A",
            owner="Ana Duarte",
        )  # fmt: skip
        assert jumper.after
        assert (jumper.after["kind"], jumper.after["label"]) == ("jumper", "temporary jumper of Ana Duarte")
        assert prove(rows, (jumper,), demo).faults == ()

    def test_there_and_back_is_no_change(self, rows: Rows) -> None:
        there = ("normal_position", {"device": "S-217", "position": "open"})
        back = ("normal_position", {"device": "S-217", "position": "closed"})
        assert made(rows, [there, back]) == ()

    def test_kept_as_json_it_is_the_same(self, rows: Rows) -> None:
        changes = made(rows, [*AT_11_20, ("remove_device", {"device": "C-233"})])
        assert asleft.read(asleft.written(changes)) == changes

    def test_where_a_device_stood_before_its_normal_position_or_its_phase_changed(self, rows: Rows) -> None:
        changes = made(rows, AT_11_20)
        assert {one.id: list(asleft.moved_positions(one)) for one in changes if one.table == "devices"} == {
            "S-217": [("B", "B", "closed", "open")],
            "F-217": [("B", "C", "closed", "closed")],
            "N-15": [],
        }
        assert list(asleft.moved_positions(changes[-1])) == []
