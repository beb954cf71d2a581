"""The example's change of the network by the verbs: planned, built by the foreman's word, and what follows.

Appendix 1 at 11:20: N-15 set and standing open, T-217's line tap moved to phase C; from then on the tie
T-217/T-219 has sides of unlike phases and normally stands open.
"""

import datetime
from collections import Counter
from typing import ClassVar

import pytest
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.parallels import parallels
from circuits.core.trace import trace
from circuits.core.values import normally_open
from circuits.models import Device, NetworkRevision, Premises
from clearances import facts, flags
from clearances.models import ChangeSet, Clearance, Interruption, LogEntry, Step
from clearances.services import changes, planning, reporting, switching, tags
from clearances.services.verb import Done, Outcome
from tests.cast import POINTS, Cast, done
from tests.clearances.said import codes, texts
from tests.clearances.sql import GIVE_STEP, breaks, no_right, refused
from tests.core.test_asleft import AT_11_20
from tests.core.test_example import SECTION


def plan(cast: Cast, clearance: Clearance, change: str, **given: str) -> Outcome:
    return changes.plan_change(cast.who(cast.dana), clearance=clearance.pk, change=change, given=given)


def planned(cast: Cast, clearance: Clearance) -> ChangeSet:
    """The example's change set, in the order in which it can be planned."""
    for change, given in AT_11_20:
        done(plan(cast, clearance, change, **given))
    return ChangeSet.objects.get()


def jumper(cast: Cast, clearance: Clearance, **between: str) -> None:
    """A temporary jumper of line 1 for two hours."""
    done(
        changes.plan_change(
            cast.who(cast.dana),
            clearance=clearance.pk,
            change="temporary_jumper",
            given={"device": "J-9", "owner": "line 1", **between},
            until=timezone.now() + datetime.timedelta(hours=2),
        )
    )


def built(cast: Cast, row: ChangeSet, **said: object) -> LogEntry:
    outcome = changes.confirm_change(
        cast.who(cast.ana),
        change_set=row.pk,
        done_at=timezone.now(),
        **said,  # type: ignore[arg-type]
    )
    return done(outcome).entry


def give(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.values_list("version", flat=True).get(pk=step.order_id)
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


class WithTie(Cast):
    """The demo's job with T-217's cutout and the tie to its neighbour among the points."""

    points: ClassVar[tuple[str, ...]] = (*POINTS, "F-217", "S-217")


def out_by_transformer() -> dict[str, int]:
    """How many customers of the section are out, by transformer."""
    out = Interruption.objects.filter(on_at=None, premises__transformer__in=SECTION)
    return dict(Counter(out.values_list("premises__transformer", flat=True)))


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


class TestPlansThatBreak:
    def test_tomorrow_s_plan_that_stood_on_c_208_is_told_and_flagged(self, cast: Cast) -> None:
        """S21: its points part P-210 from C-208 and C-221; with a jumper past them they don't."""
        clearance = cast.job("working")
        tomorrow = timezone.now() + datetime.timedelta(days=1)
        other = cast.asked(holder=cast.bo, from_pole="P-216", to_pole="P-216", start=tomorrow)
        done(
            planning.choose_points(
                cast.who(cast.dana), clearance=other.pk, version=other.version, devices=["C-221"]
            )
        )
        row = planned(cast, clearance)
        entry = built(cast, row)
        assert f"With every point of plan {other.pk} (Lindqvist, no order yet)" in entry.words

    def test_a_checked_order_s_customers_are_counted_again(self, cast: Cast) -> None:
        """S22: T-292 hung behind C-280, as Bo's order counted it; now its tap is on Quarry Lane."""
        clearance = cast.job("working")
        other = cast.asked(holder=cast.bo, from_pole="P-291", to_pole="P-293", work="Replace the conductor")
        for by, verb, extra in (
            (cast.dana, planning.choose_points, {"devices": ["C-280"]}),
            (cast.dana, planning.write_order, {}),
            (cast.ines, planning.check_order, {}),
        ):
            version = Clearance.objects.get(pk=other.pk).version
            done(verb(cast.who(by), clearance=other.pk, version=version, **extra))
        there = Premises.objects.filter(transformer="T-292")
        phases = there[0].transformer.phases
        done(plan(cast, clearance, "move_transformer", transformer="T-292", phases=phases, at_node="P-216"))
        entry = built(cast, ChangeSet.objects.get())
        assert (
            f"Order {other.pk} (Lindqvist) would take out 0 customers who were not counted with its check, "
            f"and spare {there.count()}."
        ) in entry.words

    def test_an_order_s_restore_half_that_would_close_the_tie(self, cast: Cast) -> None:
        """14:10: "close tie" of the old order joins unlike phases. It is refused."""
        clearance = cast.job("working")
        other = cast.asked(holder=cast.bo, from_pole="P-217", to_pole="P-217")
        for verb, extra in (
            (planning.choose_points, {"devices": [*cast.points, "F-217", "S-217"]}),
            (planning.write_order, {}),
        ):
            version = Clearance.objects.get(pk=other.pk).version
            done(verb(cast.who(cast.dana), clearance=other.pk, version=version, **extra))
        built(cast, planned(cast, clearance))
        told = [one.flag.text for one in flags.current() if one.flag.code == "order_not_as_left"]
        (close,) = Step.objects.filter(order=other.pk, device="S-217", operation="close")
        assert (
            f"Step {close.place} of order {other.pk} closes S-217, which would join unlike phases as the "
            "network was left."
        ) in told
        assert sum("F-217, which has C now, not B," in text for text in told) == 2
        positions.record(
            device_id="S-217", phases="B", position="open", said_by="Sal", how="radio", ordered_at=None,
            done_at=timezone.now(), reported_at=timezone.now(),
        )  # fmt: skip
        assert "joins_unlike_phases" in codes(give(cast, close))
        assert facts.joins_of_closing("S-217", "B") == (
            "unlike phases are joined by S-217: phase C and phase B",
        )


class TestTheRestoreHalf:
    def test_nothing_of_it_is_given_while_a_change_is_only_planned(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        outcome = give(cast, first)
        assert codes(outcome) == ["change_not_confirmed"]
        assert texts(outcome)[0].startswith(f"Change set {row.pk} (S-217 normally open; ")
        built(cast, row)
        done(give(cast, first))

    def test_marked_not_done_opens_it_too_and_leaves_the_network(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row, revision = planned(cast, clearance), snapshot.revision()
        done(changes.mark_not_done(cast.who(cast.ana), change_set=row.pk, why="no switch on the truck"))
        assert snapshot.revision() == revision
        done(give(cast, cast.steps(clearance, Step.Half.RESTORE)[0]))

    def test_a_tag_seen_off_is_stored_all_the_same(self, cast: Cast) -> None:
        clearance = cast.job("released")
        planned(cast, clearance)
        step = cast.steps(clearance, Step.Half.RESTORE)[0]
        done(
            reporting.report_position(
                cast.who(cast.sal), device=step.device_id, phases=step.phases, position="open",
                done_at=timezone.now(), tag=tags.GONE, tag_number=step.point.tag_number,
            )
        )  # fmt: skip
        assert not facts.live_tags().filter(number=step.point.tag_number).exists()

    def test_by_hand_it_is_refused_as_well(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        said = refused("restore_as_left", GIVE_STEP, cast.dana.pk, first.pk)
        assert said == f"Change set {row.pk}: the board does not know yet how it was built."

    def test_c_221_closes_and_30_of_the_39_are_back(self, cast: Cast) -> None:
        """11:46, with T-217 behind its own open cutout and the tie open (steps 5 and 6)."""
        clearance = cast.job("released")
        for device, phase in (("F-217", "B"), ("S-217", "B")):
            done(
                reporting.report_position(
                    cast.who(cast.sal), device=device, phases=phase, position="open", done_at=timezone.now()
                )
            )
        built(cast, planned(cast, clearance))
        for step in cast.steps(clearance, Step.Half.RESTORE):
            cast.give_step(clearance, step)
            cast.report_step(step)
            if (step.device_id, step.operation) == ("C-221", "close"):
                break
        assert out_by_transformer() == {"T-210": 8, "T-212": 11, "T-213": 4, "T-217": 9}
        # 14:10, T-217's cutout is in: 39 on, 23 out.
        done(
            reporting.report_position(
                cast.who(cast.sal), device="F-217", phases="C", position="closed", done_at=timezone.now()
            )
        )
        assert out_by_transformer() == {"T-210": 8, "T-212": 11, "T-213": 4}
        # 14:55, C-208 too: all 62 are on, and nothing is looped.
        for step in cast.steps(clearance, Step.Half.RESTORE):
            if step.state == Step.State.WAITING:
                cast.give_step(clearance, step)
                cast.report_step(step)
        assert out_by_transformer() == {}
        assert parallels(trace(snapshot.compiled(), positions.open_phases())).sentences == ()

    def test_the_old_order_s_close_of_the_tie(self, cast: Cast) -> None:
        """14:10: since 11:20 the sides of the tie come from C and B. It stays open."""
        clearance = WithTie(**vars(cast)).job("released")
        built(cast, planned(cast, clearance))
        untag, close = cast.steps(clearance, Step.Half.RESTORE)[:2]
        assert (untag.device_id, close.device_id, close.operation) == ("S-217", "S-217", "close")
        cast.give_step(clearance, untag)
        cast.report_step(untag)
        outcome = give(cast, close)
        assert codes(outcome) == ["joins_unlike_phases"]
        joined = "unlike phases are joined by S-217: phase C and phase B"
        assert texts(outcome) == [f"S-217 can't be ordered closed: {joined}."]
        said = refused("no_tie_of_unlike_phases", GIVE_STEP, cast.dana.pk, close.pk)
        assert said == "S-217 can't be ordered closed: its sides derive from C and B."
        version = Clearance.objects.values_list("version", flat=True).get(pk=clearance.pk)
        done(
            switching.leave_step_out(
                cast.who(cast.dana), step=close.pk, version=version, why="normally open from now on"
            )
        )
        untag_cutout, close_cutout = cast.steps(clearance, Step.Half.RESTORE)[2:4]
        cast.give_step(clearance, untag_cutout)
        cast.report_step(untag_cutout)
        assert codes(give(cast, close_cutout)) == ["phases_not_as_left"]


class TestBuiltOtherwise:
    def test_part_of_it_is_laid_in_and_both_are_kept(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        entry = built(cast, row, not_built=["1", "2"])
        row.refresh_from_db()
        assert entry.irregular == ""
        assert (len(row.planned), [one["change"] for one in row.built]) == (3, ["set_switch"])
        assert Device.objects.get(pk="F-217").phases == "B"

    def test_what_the_network_can_not_be_is_stored_and_keeps_the_restore_half_shut(self, cast: Cast) -> None:
        """The tap moved, the tie left normally closed: the foreman is believed, the network waits."""
        clearance = cast.job("released")
        row, revision = planned(cast, clearance), snapshot.revision()
        entry = built(cast, row, not_built=["1", "3"])
        row.refresh_from_db()
        assert (row.state, row.revision_id, snapshot.revision()) == ("confirmed", None, revision)
        assert "a tie of like phases" in entry.irregular
        (flag,) = [one.flag for one in flags.current() if one.flag.code == "change_unsettled"]
        assert flag.level == "now"
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        assert codes(give(cast, first)) == ["change_not_confirmed"]
        refused("restore_as_left", GIVE_STEP, cast.dana.pk, first.pk)
        settle = changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="tried again")
        assert codes(settle) == ["change_not_in_network"]
        # The picture is corrected: a further change of the job says what stands there.
        done(plan(cast, clearance, "normal_position", device="S-217", position="open"))
        done(plan(cast, clearance, "move_transformer", transformer="T-217", phases="C"))
        further = ChangeSet.objects.get(state="planned")
        built(cast, further)
        done(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="as change set after it"))
        row.refresh_from_db()
        further.refresh_from_db()
        assert (row.unsettled, row.revision_id) == ("", further.revision_id)
        done(give(cast, first))

    def test_in_other_words_than_the_board_has(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        entry = built(cast, row, differently="N-15 hangs one span further")
        assert entry.irregular == "Built otherwise: N-15 hangs one span further"
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        assert codes(give(cast, first)) == ["change_not_confirmed"]
        done(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="same section, looked at"))
        done(give(cast, first))
        assert codes(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="again")) == [
            "change_settled"
        ]

    def test_nothing_at_all_is_marked_not_done(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        outcome = changes.confirm_change(
            cast.who(cast.ana), change_set=row.pk, done_at=timezone.now(), not_built=["1", "2", "3"]
        )
        assert codes(outcome) == ["nothing_built"]

    def test_it_can_be_laid_in_later_when_what_was_in_the_way_is_gone(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        entry = built(cast, row, not_built=["1", "3"])
        assert entry.irregular
        Device.objects.filter(pk="S-217").update(normal_position="open")
        done(
            changes.settle_change(cast.who(cast.jon), change_set=row.pk, why="the tie is open on record now")
        )
        assert Device.objects.get(pk="F-217").phases == "C"


class TestTheDatabase:
    def test_what_was_planned_and_said_stands(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        built(cast, row)
        for change in (
            "planned = '[]'",
            "built = '[]'",
            "said_by = 'Bo'",
            "rows = '[]'",
            "revision_id = NULL",
        ):
            refused("change_stands", f"UPDATE clearances_changeset SET {change} WHERE id = {row.pk}")
        refused("history_is_kept", f"DELETE FROM clearances_changeset WHERE id = {row.pk}")
        no_right("TRUNCATE clearances_changeset")

    def test_a_change_is_said_by_somebody_and_in_the_network_or_told_why_not(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        sets = "UPDATE clearances_changeset SET {} WHERE id = %s".format
        breaks("change_said_by_someone", sets("state = 'not_done'"), row.pk)
        breaks("change_built_when_confirmed", sets("unsettled = 'the tap'"), row.pk)
        said = "said_by = 'Ana', said_at = now(), done_at = now()"
        breaks("change_in_network_or_told_why", sets(f"state = 'confirmed', {said}"), row.pk)
        columns = "clearance_id, state, planned, planned_by_id, built, rows, said_by, unsettled, ended_why"
        again = (
            f"INSERT INTO clearances_changeset ({columns}) SELECT {columns} FROM clearances_changeset"
            " WHERE id = %s"
        )
        breaks("change_planned_once", again, row.pk)
        built(cast, row)
        breaks("change_ended_by_someone", sets("state = 'surveyed'"), row.pk)


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
