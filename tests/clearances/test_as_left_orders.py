"""What a change of the network does to other plans and to the restore half of its own job."""

import datetime
from typing import Any, ClassVar

import pytest
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.parallels import parallels
from circuits.core.trace import trace
from circuits.models import Device, Premises
from clearances import at_device, facts, flags, rollcall
from clearances.models import ChangeSet, Clearance, Step
from clearances.services import asking, changes, orders, planning, reporting, switching, tags
from tests.cast import Cast, done

from .beside import stands
from .leaving import WithTie, built, give, out_by_transformer, plan, planned
from .looking import look
from .said import codes, texts
from .sql import GIVE_STEP, refused

HOUR = datetime.timedelta(hours=1)


class BehindItsCutout(Cast):
    """Work at T-217 behind its own cutout and the tie."""

    points: ClassVar[tuple[str, ...]] = ("F-217", "S-217")

    def asked(self, **named: Any) -> Clearance:
        """Its request; limits that a transformer's name stands for."""
        now = timezone.now()
        request: dict[str, Any] = {"transformer": "T-217", "work": "change it out", "crew": "line 2"}
        request |= {"window_start": now, "promised_end": now + HOUR, "latest_finish": now + HOUR}
        asked = asking.ask_for_clearance(
            self.who(named["holder"]),
            reason_for_customers="a new transformer",
            recall_minutes=20,
            own_clearance=True,
            **request,
        )
        entry = done(asked).entry
        assert entry.clearance
        return entry.clearance


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
            (cast.dana, orders.write_order, {}),
            (cast.ines, orders.check_order, {}),
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
            (orders.write_order, {}),
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
        assert at_device.joins_of_closing("S-217", "B") == (
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
                done_at=timezone.now(), tag=tags.GONE, tag_number=step.tag_number,
            )
        )  # fmt: skip
        assert not facts.live_tags().filter(number=step.tag_number).exists()

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


class TestAPointWhosePhasesAreGone:
    """Found by the random days: T-217's tap moves while another order, checked, opens its cutout by the old
    phase."""

    @pytest.fixture
    def other(self, cast: Cast) -> Clearance:
        clearance = cast.job("working")
        theirs = BehindItsCutout.present()
        other = theirs.bring(theirs.asked(holder=cast.bo), "told")
        row = planned(cast, clearance)
        entry = built(cast, row)  # the foreman's word is stored, whatever it upsets
        assert f"order {other.pk}" in entry.words
        assert "F-217 (phase C)" in entry.words
        assert Device.objects.get(pk="F-217").phases == "C"
        return Clearance.objects.get(pk=other.pk)

    def test_its_step_is_refused(self, cast: Cast, other: Clearance) -> None:
        opening = cast.steps(other, Step.Half.ISOLATE)[0]
        assert (opening.device_id, opening.phases) == ("F-217", "B")
        assert "phases_not_as_left" in codes(give(cast, opening))

    def test_it_is_read_and_printed_all_the_same(self, cast: Cast, other: Clearance) -> None:
        for path in ("", "order/", "sheet/", "tags/"):
            assert look(cast.dana, f"/desk/clearances/{other.pk}/{path}").status == 200, path
        close = next(one for one in cast.steps(other, Step.Half.RESTORE) if one.device_id == "F-217")
        for name in ("give_step", "call_roll"):
            assert look(cast.dana, f"/do/{name}/?step={close.pk}").status == 200, name
        assert planning.ways_in(other)

    def test_its_proof_says_that_the_point_keeps_nothing_out(self, cast: Cast, other: Clearance) -> None:
        notes = look(cast.dana, f"/clearances/{other.pk}/proof/").context["notes"]
        assert "Point F-217 keeps no source on record out of these limits." in notes

    def test_whom_it_would_hit_is_asked_by_the_phase_that_is_there(self, cast: Cast) -> None:
        """Bo's clearance is out on it: were the cutout closed in truth, closing the tap would reach him."""
        clearance = cast.job("told")
        theirs = BehindItsCutout.present()
        other = theirs.bring(theirs.asked(holder=cast.bo), "accepted")
        built(cast, planned(cast, clearance))
        for device, phases in (("C-208", "ABC"), ("C-221", "ABC"), ("D-219", "B"), ("D-212", "B")):
            stands(cast, device, "open", phases)
        assert other.points.get(device="F-217").phases == "B"
        (hit,) = rollcall.one_report_away("C-221", "ABC")
        assert (hit.clearance, hit.what) == (other.pk, "nothing but F-217 or S-217 would stand between")
        for path in (f"desk/clearances/{other.pk}/", f"desk/clearances/{other.pk}/sheet/", "desk/"):
            assert look(cast.dana, f"/{path}").status == 200, path
        assert look(cast.bo, f"/field/clearances/{other.pk}/").status == 200

    def test_its_step_that_is_out_is_reported_by_the_old_letter_and_stored(self, cast: Cast) -> None:
        """An observation is never refused: what is there now stands open, and the word is marked."""
        clearance = cast.job("working")
        theirs = BehindItsCutout.present()
        other = theirs.bring(theirs.asked(holder=cast.bo), "told")
        opening = cast.steps(other, Step.Half.ISOLATE)[0]
        done(give(cast, opening))
        built(cast, planned(cast, clearance))
        report: dict[str, Any] = {"step": opening.pk, "phases": "B", "done_at": timezone.now(), "tag": True}
        entry = done(reporting.report_step(cast.who(cast.sal), made_inoperable="barrel out", **report)).entry
        assert entry.irregular == "F-217 has C now, no longer B."
        assert positions.open_phases()["F-217"] == "C"
        opening.refresh_from_db()
        assert (opening.state, opening.reported_phases) == ("reported", "B")
