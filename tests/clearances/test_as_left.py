"""The example's change of the network by the verbs: planned, built by the foreman's word, and what follows.

Appendix 1 at 11:20: N-15 set and standing open, T-217's line tap moved to phase C; from then on the tie
T-217/T-219 has sides of unlike phases and normally stands open.
"""

import datetime

import pytest
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.parallels import parallels
from circuits.core.trace import trace
from circuits.core.values import normally_open
from circuits.models import Device, NetworkRevision, Premises
from clearances import flags
from clearances.models import ChangeSet, Interruption
from clearances.services import changes, reporting
from clearances.services.verb import Done
from tests.cast import Cast, done
from tests.core.test_asleft import AT_11_20
from tests.core.test_example import SECTION

from .leaving import built, plan, planned
from .said import codes, texts


class TestThePlan:
    def test_it_is_said_as_the_trade_says_it(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        assert (row.state, row.words) == (
            "planned",
            (
                "S-217 normally open; move transformer T-217 to phase C; "
                "set gang switch N-15 in span L-214-215, normally open"
            ),
        )
        assert not Device.ever.filter(pk="N-15").exists()

    def test_unlike_phases_joined_are_refused(self, cast: Cast) -> None:
        outcome = plan(cast, cast.job("working"), "move_transformer", transformer="T-217", phases="C")
        assert codes(outcome) == ["network_can_not_be"]
        assert "a tie of like phases: T-217s derives from C, T-219s from B" in texts(outcome)[0]
        assert not ChangeSet.objects.exists()

    def test_a_span_that_everything_hangs_on_is_refused(self, cast: Cast) -> None:
        said = texts(plan(cast, cast.job("asked"), "remove_span", line="L-12-201"))
        assert said[0] == "No station would feed GEN-219 phase B in normal position any more."
        assert len(said) == 5
        assert said[4].endswith("more.")

    def test_a_point_of_a_clearance_is_not_planned_away(self, cast: Cast) -> None:
        clearance = cast.job("working")
        assert f"C-208 is a point of clearance {clearance.pk}." in texts(
            plan(cast, clearance, "remove_device", device="C-208")
        )

    @pytest.mark.parametrize(
        ("change", "given"),
        [
            ("set_switch", {"line": "L-214-215"}),
            ("set_switch", {"line": "L-214-215", "device": "N-15", "colour": "red"}),
            ("dig_a_hole", {}),
        ],
    )
    def test_what_is_no_change_of_the_trade(self, cast: Cast, change: str, given: dict[str, str]) -> None:
        assert codes(plan(cast, cast.job("asked"), change, **given)) == ["no_such_change"]

    def test_who_plans(self, cast: Cast) -> None:
        clearance = cast.job("asked")
        for person, allowed in ((cast.ana, True), (cast.jon, True), (cast.bo, False), (cast.sal, False)):
            outcome = changes.plan_change(
                cast.who(person), clearance=clearance.pk, change="change_link",
                given={"device": "C-233", "link": "25K"},
            )  # fmt: skip
            assert isinstance(outcome, Done) is allowed, person

    def test_a_jumper_has_an_owner_and_an_end(self, cast: Cast) -> None:
        clearance = cast.job("asked")
        jumper = {
            "device": "J-9",
            "from_node": "P-213",
            "to_node": "P-216",
            "phases": "ABC",
            "owner": "line 1",
        }
        assert codes(plan(cast, clearance, "temporary_jumper", **jumper)) == ["no_end"]
        until = timezone.now() + datetime.timedelta(hours=2)
        done(
            changes.plan_change(
                cast.who(cast.dana),
                clearance=clearance.pk,
                change="temporary_jumper",
                given=jumper,
                until=until,
            )
        )
        row = ChangeSet.objects.get()
        built(cast, row)
        assert "jumper_overdue" not in {one.flag.code for one in flags.current()}
        ChangeSet.objects.filter(pk=row.pk).update(until=timezone.now() - datetime.timedelta(minutes=1))
        (flag,) = [one.flag for one in flags.current() if one.flag.code == "jumper_overdue"]
        assert flag.level == "now"
        assert "temporary jumper J-9 of line 1" in flag.text


class TestAsBuilt:
    """S21, S22: all changes on acceptance of the as-built."""

    def test_the_network_in_use_is_the_one_as_left(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        before = snapshot.planned(AT_11_20)
        entry = built(cast, row)
        row.refresh_from_db()
        left = snapshot.compiled()
        assert row.revision_id == left.network.revision == NetworkRevision.objects.latest("pk").pk
        assert entry.irregular == ""
        assert f"Network revision {row.revision_id}." in entry.words
        state, as_planned = (trace(one, normally_open(one.network)) for one in (left, before))
        assert {point: state.answer(*point) for point in left.points} == {
            point: as_planned.answer(*point) for point in before.points
        }
        assert parallels(state).sentences == ()
        assert normally_open(left.network)["N-15"] == "ABC"
        assert normally_open(left.network)["S-217"] == "B"

    def test_c_208_no_longer_feeds_the_far_half(self, cast: Cast) -> None:
        built(cast, planned(cast, cast.job("working")))
        left = snapshot.compiled()
        state = trace(left, normally_open(left.network) | {"C-221": "ABC", "D-219": "B", "D-212": "B"})
        out = {one.transformer for one in left.network.premises if one.id in state.not_energized()}
        assert out == {"T-217", "T-218", "T-219", "T-220"}

    def test_customers_follow_their_transformer_and_none_is_there_twice(self, cast: Cast) -> None:
        before = Premises.objects.count()
        built(cast, planned(cast, cast.job("working")))
        assert Premises.objects.count() == before
        left = snapshot.compiled()
        behind = {
            phase: {
                one.transformer
                for one in left.network.premises
                if one.transformer in SECTION
                and one.id
                in trace(left, normally_open(left.network) | {"C-221": phase, "D-219": "B"}).not_energized()
            }
            for phase in "BC"
        }
        assert behind == {"B": {"T-218", "T-219"}, "C": {"T-217", "T-218", "T-220"}}

    def test_the_62_are_out_as_before_and_nobody_is_told_anything_new(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        out = set(Interruption.objects.filter(on_at=None).values_list("premises", flat=True))
        assert len(out) == 62
        entry = built(cast, row)
        assert (entry.data["off"], entry.data["back"]) == ([], [])
        assert set(Interruption.objects.filter(on_at=None).values_list("premises", flat=True)) == out

    def test_a_tie_stands_where_it_stood_until_somebody_opens_it(self, cast: Cast) -> None:
        """A new normal position moves nothing: at 11:20 the tie is still closed, it is opened at 11:31."""
        built(cast, planned(cast, cast.job("working")))
        assert "S-217" not in positions.open_phases()
        assert "S-217" in {
            one.flag.about for one in flags.current() if one.flag.code == "position_without_reason"
        }

    def test_what_was_reported_of_a_cutout_goes_with_its_tap(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        done(
            reporting.report_position(
                cast.who(cast.sal), device="F-217", phases="B", position="open", done_at=timezone.now(),
                made_inoperable="barrel out, secured",
            )
        )  # fmt: skip
        built(cast, row)
        assert positions.open_phases()["F-217"] == "C"
        report = positions.details(["F-217"])["F-217", "C"]
        assert report
        assert (report.made_inoperable, report.said_by) == ("barrel out, secured", "Ana Duarte")

    def test_live_clearances_are_proved_again(self, cast: Cast) -> None:
        """A jumper from the main into the limits: the board says so at once, it refuses nothing."""
        clearance = cast.job("working")
        jumper = {"device": "J-9", "from_node": "P-207", "to_node": "P-216", "phases": "A", "owner": "line 3"}
        until = timezone.now() + datetime.timedelta(hours=1)
        done(
            changes.plan_change(
                cast.who(cast.dana),
                clearance=clearance.pk,
                change="temporary_jumper",
                given=jumper,
                until=until,
            )
        )
        entry = built(cast, ChangeSet.objects.get())
        assert f"Under clearance {clearance.pk} (Duarte) phase" in entry.words
        fed = [one.flag for one in flags.current() if one.flag.code == "limits_fed"]
        assert {flag.level for flag in fed} == {"now"}
        assert any("J-9" in flag.text for flag in fed)

    def test_only_the_holder_says_so_and_the_desk_for_them(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        now = timezone.now()
        assert codes(changes.confirm_change(cast.who(cast.bo), change_set=row.pk, done_at=now)) == [
            "not_the_holder"
        ]
        assert codes(changes.confirm_change(cast.who(cast.dana), change_set=row.pk, done_at=now)) == [
            "not_the_holder"
        ]
        who = cast.who(cast.dana, speaking_for=cast.ana, how="radio")
        entry = done(changes.confirm_change(who, change_set=row.pk, done_at=now)).entry
        assert entry.words.startswith("Ana Duarte, entered by Dana Reyes (radio): change set ")
        assert codes(changes.confirm_change(who.__class__(cast.ana), change_set=row.pk, done_at=now)) == [
            "change_not_planned"
        ]
        assert codes(changes.mark_not_done(cast.who(cast.ana), change_set=row.pk, why="rain")) == [
            "change_not_planned"
        ]

    def test_a_number_that_is_not_there(self, cast: Cast) -> None:
        cast.job("working")
        outcome = changes.confirm_change(cast.who(cast.ana), change_set=999, done_at=timezone.now())
        assert texts(outcome) == ["There is no change set 999."]


def test_who_is_behind_a_cutout_after_a_new_tap(cast: Cast) -> None:
    """S23: T-217 goes to P-213, which is behind C-208 alone once N-15 stands open."""
    clearance = cast.job("working")
    done(plan(cast, clearance, "set_switch", line="L-214-215", device="N-15"))
    done(plan(cast, clearance, "normal_position", device="S-217", position="open"))
    done(plan(cast, clearance, "move_transformer", transformer="T-217", phases="B", at_node="P-213"))
    built(cast, ChangeSet.objects.get())
    left = snapshot.compiled()
    opened = normally_open(left.network) | {"C-208": "ABC", "D-212": "B", "D-219": "B"}
    out = trace(left, opened).not_energized()
    assert {one.transformer for one in left.network.premises if one.id in out} == {
        "T-210", "T-212", "T-213", "T-217",
    }  # fmt: skip
