"""Plans on networks whose answer a person can see."""

from dataclasses import replace
from typing import Any

import pytest

from circuits.core.limits import between
from circuits.core.network import (
    Capacitor,
    Compiled,
    Device,
    Line,
    Network,
    Node,
    Premises,
    Source,
    Transformer,
    compile_network,
)
from circuits.core.planning import planner
from circuits.core.planning.loading import Ratings
from circuits.core.planning.mixed import Found, Mixed
from circuits.core.planning.model import Choice, Program
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import CannotPlanError, Plan, Plans, Question, sentences
from tests import networks


def ask(compiled: Compiled, *limits: tuple[str, str], **more: Any) -> Plans:
    """Up to three plans, with the devices in normal position."""
    open_now = more.pop("open_now", compiled.network.normally_open)
    how_many = more.pop("how_many", 3)
    return plans(compiled, Question(limits, open_now, **more), how_many=how_many)


def does(plan: Plan) -> list[str]:
    """What is done, in short: "+" closed, "-" opened, "=" checked open."""
    said = []
    for point in plan.points:
        said += [f"-{point.device.id} {point.open}"] if point.open else []
        said += [f"={point.device.id} {point.check_open}"] if point.check_open else []
    return said + [f"{'+' if one.closes else '-'}{one.device.id} {one.phases}*" for one in plan.moved]


def two_feeders(**changes: Any) -> Compiled:
    """
    *ST1 ==[B-1]== P-1 ==[S-1]== P-2 --- P-3 ==<N-7>== P-4 ==== P-5 ==[B-2]== *ST2
                                  |       |             |
                                [F-2]   (T-3) 4:      (T-4) 2:
                                  |
                                (T-2) 3:, one on life support
    """
    rows: dict[str, Any] = {
        "structures": networks.poles(1, 2, 3, 4, 5),
        "nodes": (
            Node("bus1", "A"), Node("bus2", "A"),
            *(networks.node(f"P-{number}", "A") for number in (1, 2, 3, 4, 5)),
            networks.node("P-2t", "A"), *(networks.low(f"T-{number}s", "A") for number in (2, 3, 4)),
        ),
        "lines": (Line("L23", "P-2", "P-3", "A"), Line("L45", "P-4", "P-5", "A")),
        "devices": (
            Device("B-1", "bus1", "P-1", "A", "A", kind="breaker"),
            Device("S-1", "P-1", "P-2", "A", "A", visible_break=True, recloses=False, remote=False),
            Device("F-2", "P-2", "P-2t", "A", "A", visible_break=True, recloses=False, remote=False),
            Device("N-7", "P-3", "P-4", "A", "", visible_break=True, recloses=False, remote=False),
            Device("B-2", "bus2", "P-5", "A", "A", kind="breaker"),
        ),
        "transformers": (
            Transformer("T-2", "P-2t", "T-2s", "A", "single", kva=25),
            Transformer("T-3", "P-3", "T-3s", "A", "single", kva=50),
            Transformer("T-4", "P-4", "T-4s", "A", "single", kva=50),
        ),
        "sources": (Source("ST1", "bus1", "station", "A"), Source("ST2", "bus2", "station", "A")),
        "premises": (
            *networks.customers("T-2", 2), *networks.customers("T-3", 4), *networks.customers("T-4", 2),
            Premises("oxygen", "T-2", care="life_support"), Premises("school", "T-4", care="critical"),
        ),
    }  # fmt: skip
    return compile_network(Network(**(rows | changes)))


class TestTwoFeeders:
    def test_what_is_cut_off_is_picked_up_over_the_tie(self) -> None:
        found = ask(two_feeders(), ("P-1", "A"))
        assert does(found.plans[0]) == ["-B-1 A", "-S-1 A", "+N-7 A*"]
        assert found.plans[0].customers == 0
        assert found.plans[0].out_without_ties == 7
        assert found.plans[0].operations == 3
        assert found.plans[0].without_visible_open == ("B-1",)
        said = sentences(two_feeders(), found.plans[0], 60)
        assert said[0] == (
            "Open B-1 (phase A) and tag it; tag it at its point of control too, and make what closes it from "
            "there inoperative; no visible open."
        )
        assert said[2:5] == (
            "Close N-7 (phase A).",
            "0 customers out; 0 customer-minutes over the window.",
            "Without closing a tie 7 customers would be out.",
        )

    def test_the_next_plan_leaves_out_a_point_of_the_first(self) -> None:
        first, second, *_ = ask(two_feeders(), ("P-1", "A")).plans
        assert does(second) == ["-B-1 A", "=N-7 A"]
        assert second.customers == 7
        assert second.life_support == ("oxygen",)
        assert first.price < second.price
        assert first.proven
        assert first.standing == "no plan has fewer customers out, weighted, within the ties looked at"
        assert second.standing == (
            "of the plans without a point of each one before, none has fewer customers out, weighted"
        )

    def test_a_normally_open_tie_at_the_end_of_the_limits_is_checked_and_tagged(self) -> None:
        """Scenario S17 of the trade: no operation needed, and yet in the list."""
        (plan, *_) = ask(two_feeders(), ("P-3", "A")).plans
        assert does(plan) == ["-S-1 A", "=N-7 A"]
        assert "Check N-7 open (phase A) and tag it, no operation needed." in sentences(two_feeders(), plan)
        assert plan.operations == 1

    def test_a_device_that_is_kept_is_a_point_only_where_it_stands_open(self) -> None:
        assert does(ask(two_feeders(), ("P-3", "A"), kept=["S-1", "N-7"]).plans[0]) == ["-B-1 A", "=N-7 A"]
        with pytest.raises(CannotPlanError, match=r"No device that may be used .*: station ST1 > B-1 > P-1"):
            ask(two_feeders(), ("P-1", "A"), kept=["B-1"])

    def test_an_alternate_feed_does_not_cross_another_job_s_span(self) -> None:
        """Scenario S12 of the trade: refused for that window, with the reason in one sentence."""
        why = "work clearance 51 works there, Wed 13 May 09:00 to 12:00"
        found = ask(two_feeders(), ("P-1", "A"), not_crossed={"P-5": why})
        assert does(found.plans[0]) == ["-B-1 A", "=N-7 A"]
        assert found.plans[0].customers == 7
        assert f"N-7 picks nothing up over P-5: {why}." in found.told
        at_another_hour = ask(two_feeders(), ("P-1", "A"))
        assert does(at_another_hour.plans[0])[-1] == "+N-7 A*"

    def test_nor_through_the_span_before_the_tie(self) -> None:
        found = ask(two_feeders(), ("P-1", "A"), not_crossed={"P-3": "work clearance 51 works there"})
        assert [one for one in found.plans if one.closes] == []

    def test_a_span_elsewhere_is_no_matter(self) -> None:
        found = ask(networks.radial_tap(), ("P-3", "B"), not_crossed={"P-1": "51 works there"})
        assert [does(plan) for plan in found.plans] == [["-C-301 B"]]
        far = ask(networks.radial_tap(), ("P-3", "B"), not_crossed={"P-2": "51 works there"})
        assert far.told[0] == "No normally-open tie stands in reach: what is cut off stays out."

    def test_a_customer_on_life_support_weighs_more(self) -> None:
        (plan, *_) = ask(two_feeders(), ("T-2s", "A")).plans
        assert does(plan) == ["-F-2 A"]
        assert plan.price == pytest.approx(2 + 10 + 0.001 + 0.001)

    def test_a_customer_s_transfer_switch_is_no_tie(self) -> None:
        tie = two_feeders().network.device["N-7"]
        other = Device("N-7", tie.from_node, tie.to_node, "A", "", kind="transfer_switch")
        devices = tuple(other if one.id == "N-7" else one for one in two_feeders().network.devices)
        found = ask(two_feeders(devices=devices), ("P-1", "A"))
        assert found.plans[0].customers == 7


class TestWhatMayBeCarried:
    def amps(self, **of_device: float) -> Ratings:
        wide = {("device", name): 600.0 for name in ("B-1", "S-1", "F-2", "N-7", "B-2")}
        return Ratings(wide | {("device", name.replace("_", "-")): amps for name, amps in of_device.items()})

    def test_limits_used_are_told_by_summed_loads(self) -> None:
        """75 kVA at 12.47/7.2 kV are 10.4 A (practice: kVA / 7.2)."""
        found = ask(two_feeders(), ("P-1", "A"), ratings=self.amps())
        assert [(one.id, round(one.amps, 1)) for one in found.plans[0].used] == [("B-2", 17.4), ("N-7", 10.4)]
        assert "N-7 phase A 10 of 600 A, by summed loads." in sentences(two_feeders(), found.plans[0])
        assert "No peak is on record: loads are the sizes of the transformers, connected kVA." in found.told
        assert "No rating is on record, so no load was summed." in ask(two_feeders(), ("P-1", "A")).told

    def test_a_tie_that_can_t_carry_all_carries_what_matters_most(self) -> None:
        """8 A are 57 kVA: T-3's 50 fit, T-2's 25 besides do not, though one there is on life support."""
        found = ask(two_feeders(), ("P-1", "A"), ratings=self.amps(N_7=8))
        assert does(found.plans[0]) == ["-B-1 A", "-S-1 A", "-F-2 A*", "+N-7 A*"]
        assert found.plans[0].customers == 3
        assert found.plans[0].life_support == ("oxygen",)

    def test_a_line_that_would_be_too_full(self) -> None:
        """15 A are 108 kVA: T-4's 50, which hang there now, and T-3's 50."""
        line = Ratings({("line", "L23"): 600.0, ("line", "L45"): 15.0})
        found = ask(two_feeders(), ("P-1", "A"), ratings=line)
        assert found.plans[0].customers == 3
        assert does(found.plans[0]) == ["-B-1 A", "-S-1 A", "-F-2 A*", "+N-7 A*"]

    def test_where_there_are_many_devices_no_lateral_is_opened_to_make_the_rest_fit(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(planner, "_FEW", 0)
        found = ask(two_feeders(), ("P-1", "A"), ratings=self.amps(N_7=8))
        assert found.plans[0].customers == 7
        assert not found.plans[0].closes
        assert "No lateral is opened only so that what is left fits a tie." in found.told

    def test_when_the_time_runs_out_the_plan_without_a_tie_stands(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        minimize = Mixed.minimize

        def interrupted(self: Mixed, seconds: float, **how: Any) -> Found | None:
            return None if too_long in how else minimize(self, seconds, **how)

        monkeypatch.setattr(Mixed, "minimize", interrupted)
        too_long = "ceiling"
        (plan,) = ask(two_feeders(), ("P-1", "A"), ratings=self.amps(N_7=8)).plans
        assert plan.customers == 7
        assert not plan.closes
        assert (plan.gap, plan.proven) == (1.0, False)
        too_long = "shut"
        assert ask(two_feeders(), ("P-1", "A"), ratings=self.amps(N_7=8)).plans == ()

    def test_peaks_on_record_are_used(self) -> None:
        peaks = {("transformer", "T-3"): 20.0, ("transformer", "T-2"): 10.0}
        found = ask(two_feeders(), ("P-1", "A"), ratings=Ratings({("device", "N-7"): 5.0}, peaks))
        assert found.plans[0].customers == 0
        assert not [one for one in found.told if "connected kVA" in one]


class TestTheDemo:
    def limits(self, demo: Compiled) -> tuple[tuple[str, str], ...]:
        return between(demo, "P-213", "P-218", "ABC").nodes

    def test_the_example_s_section(self, demo: Compiled) -> None:
        """The example of the trade: both cutouts and both customers' machines, 62 customers out."""
        found = ask(demo, *self.limits(demo), by_phase=False)
        assert does(found.plans[0]) == ["-C-208 ABC", "-C-221 ABC", "-D-219 B", "-F-212 B"]
        assert found.plans[0].customers == 62
        assert [point.sources for point in found.plans[0].points] == [(), (), ("GEN-219",), ()]
        assert "it is the disconnect of GEN-219" in found.plans[0].points[2].words

    def test_with_a_cutout_that_another_holds_open(self, demo: Compiled) -> None:
        """On the morning itself clearance 42 holds J-207 and C-208 open: C-208 is checked and shared."""
        found = ask(
            demo,
            *self.limits(demo),
            by_phase=False,
            open_now=demo.network.normally_open | {"J-207": "ABC", "C-208": "ABC"},
            kept=["J-207", "C-208"],
        )
        assert does(found.plans[0])[:2] == ["=C-208 ABC", "-C-221 ABC"]
        assert found.plans[0].operations == 3

    def test_one_phase_of_a_section_with_a_bank(self, demo: Compiled) -> None:
        """The bank at T-218 couples the phases, so its cutout is a point too; the pump is on two phases."""
        (plan, *_) = ask(demo, ("P-210", "A")).plans
        assert does(plan) == ["-C-208 A", "-C-221 A", "-F-218 A"]
        assert (len(plan.out), len(plan.partly)) == (8, 1)
        said = sentences(demo, plan)
        assert "8 customers out, 1 more on part of their phases or on a voltage that is not known." in said

    def test_a_critical_customer_is_named(self, demo: Compiled) -> None:
        (plan, *_) = ask(demo, ("T-218s", "ABC"), by_phase=False).plans
        assert len(plan.critical) == 1


class TestTwoFeedsOfOnePremises:
    def test_who_has_a_second_feed_is_not_out(self) -> None:
        """The first feed is broken before the second is made, so nothing comes through."""
        network = two_feeders().network
        mill = Premises("mill", "T-3", second_transformer="T-4", transfer="open")
        compiled = compile_network(replace(network, premises=(*network.premises, mill)))
        (plan, *_) = ask(compiled, ("P-3", "A")).plans
        assert does(plan) == ["-S-1 A", "=N-7 A"]
        assert "mill" not in {*plan.out, *plan.partly}
        assert plan.customers == 7


class TestBanks:
    def test_an_open_delta_bank_has_a_phase_more_than_it_hangs_on(self) -> None:
        """
        *ST ==[C-1]== P-1 ==[C-2]== P-2 ==(bank on A and B, secondary A, B and C) 2:
        """
        compiled = compile_network(
            Network(
                nodes=(*(Node(name, "ABC") for name in ("bus", "P-1", "P-2")), networks.low("Ts", "ABC")),
                devices=(
                    Device("C-1", "bus", "P-1", "ABC", "ABC"),
                    Device("C-2", "P-1", "P-2", "ABC", "ABC", visible_break=True),
                ),
                transformers=(Transformer("T", "P-2", "Ts", "AB", "open_wye-open_delta"),),
                sources=(Source("ST", "bus", "station", "ABC"),),
                premises=networks.customers("T", 2),
            )
        )
        (plan,) = ask(compiled, ("P-2", "A"), how_many=1).plans
        assert does(plan) == ["-C-2 AB"]
        assert plan.customers == 2


class TestMachines:
    def test_disconnects_are_opened_and_a_machine_without_one_is_undecided(self) -> None:
        compiled = networks.customer_machines()
        found = ask(compiled, ("P-3", "ABC"))
        (plan, *_) = found.plans
        assert does(plan) == ["-C-1 ABC", "-D-4 B", "-D-5 C"]
        assert [point.sources for point in plan.points] == [(), ("seen",), ()]
        assert found.undecided == ("unknown",)
        assert found.told[0] == (
            "No device that may be used parts standby unknown from these limits: the holder has to agree how "
            "it is dealt with."
        )
        assert found.told[1].startswith("Only a transfer switch parts standby known")
        assert ask(compiled, ("P-3", "ABC"), agreed=["unknown"]).undecided == ()

    def test_the_next_plan_is_no_other_cutout_before_the_same_roof(self) -> None:
        """A machine between two devices, so that either parts it."""
        compiled = two_feeders(
            sources=(Source("ST1", "bus1", "station", "A"), Source("roof", "P-5", "inverter", "A"))
        )
        found = ask(compiled, ("P-2", "A"), open_now={})
        assert [does(plan)[0] for plan in found.plans] == ["-S-1 A", "-B-1 A"]

    def test_where_only_a_machine_can_come_each_way_counts(self) -> None:
        compiled = two_feeders(sources=(Source("roof", "bus1", "inverter", "A"),))
        found = ask(compiled, ("P-2", "A"), open_now={})
        assert [does(plan) for plan in found.plans] == [["-S-1 A"], ["-B-1 A"]]


class TestLoops:
    def looped(self) -> Compiled:
        """
        *ST1 ==[B-1]== P-1 ==[R-1]== P-2 ==[R-3]== P-3 ==<N-7>== bus1
                        |                           |
                        ==========[R-2]==============       customers at P-2 (3), P-3 (2)
        """
        return compile_network(
            Network(
                nodes=(
                    *(Node(name, "A") for name in ("bus1", "P-1", "P-2", "P-3")),
                    networks.low("T-2s", "A"), networks.low("T-3s", "A"),
                ),
                devices=(
                    Device("B-1", "bus1", "P-1", "A", "A", visible_break=True),
                    Device("R-1", "P-1", "P-2", "A", "A", visible_break=True),
                    Device("R-2", "P-1", "P-3", "A", "A", visible_break=True),
                    Device("R-3", "P-2", "P-3", "A", "A", visible_break=True),
                    Device("N-7", "P-3", "bus1", "A", "", visible_break=True),
                ),
                transformers=(
                    Transformer("T-2", "P-2", "T-2s", "A", "single", kva=50),
                    Transformer("T-3", "P-3", "T-3s", "A", "single", kva=50),
                ),
                sources=(Source("ST1", "bus1", "station", "A"),),
                premises=(*networks.customers("T-2", 3), *networks.customers("T-3", 2)),
            )
        )  # fmt: skip

    def test_a_loop_that_stands_closed_may_stay_and_none_is_made(self) -> None:
        found = ask(self.looped(), ("P-1", "A"))
        assert does(found.plans[0]) == ["-B-1 A", "-R-1 A", "-R-2 A", "+N-7 A*"]
        assert found.plans[0].customers == 0
        assert does(ask(self.looped(), ("T-2s", "A")).plans[0]) == ["-R-1 A", "-R-3 A"]

    def test_a_program_that_would_close_a_loop_is_told_not_to(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """A tie into a loop that stands passes the rows of the program; it is found and forbidden."""
        rings: list[list[int]] = []
        forbid = Program.forbid

        def seen(self: Program, ring: list[int]) -> None:
            rings.append(ring)
            forbid(self, ring)

        monkeypatch.setattr(Program, "forbid", seen)
        solve = Program.solve

        def first_with_the_tie(self: Program, seconds: float) -> Choice | None:
            choice = solve(self, seconds)
            if choice and not rings:
                tie = next(at for at, unit in enumerate(self.ground.units) if unit.device.id == "N-7")
                return Choice(choice.opened, (), (tie,), choice.dead, 0.0, 0.0, proven=True)
            return choice

        monkeypatch.setattr(Program, "solve", first_with_the_tie)
        found = ask(self.looped(), ("T-2s", "A"), how_many=1)
        assert len(rings[0]) == 3
        assert does(found.plans[0]) == ["-R-1 A", "-R-3 A"]

    def test_a_span_in_a_loop_is_parted_from_nothing(self) -> None:
        """Two lines side by side: the one beyond the node that is not to be crossed joins its ends still."""
        network = two_feeders().network
        beside = Line("L45b", "P-4", "P-5", "A")
        compiled = compile_network(replace(network, lines=(*network.lines, beside)))
        found = ask(compiled, ("P-1", "A"), not_crossed={"P-5": "51 works there"})
        assert not found.plans[0].closes

    def test_what_is_too_full_in_a_loop_is_thrown_away(self) -> None:
        """How a loop divides is not known: each side counts as if all came that way, which no row of the
        program says. 15 A are 108 kVA, and 125 would come."""
        network = two_feeders().network
        beside = Line("L45b", "P-4", "P-5", "A")
        compiled = compile_network(replace(network, lines=(*network.lines, beside)))
        found = ask(compiled, ("P-1", "A"), ratings=Ratings({("line", "L45"): 15.0}))
        (thrown,) = found.thrown_away
        assert thrown.startswith("A plan with points B-1, S-1 was thrown away when it was proved again: ")
        assert thrown.endswith("line L45 would carry more than it may.")
        assert found.plans[0].customers == 7


def test_a_capacitor_in_the_limits_has_to_be_waited_for() -> None:
    compiled = two_feeders(capacitors=(Capacitor("CAP-1", "P-3", "A", "wye_grounded"),))
    (plan, *_) = ask(compiled, ("P-3", "A")).plans
    assert plan.capacitors == ("CAP-1",)
    said = next(one for one in sentences(compiled, plan) if one.startswith("Capacitor"))
    assert said == (
        "Capacitor CAP-1 at P-3 lies with the limits: after it is disconnected wait at least 5 minutes, then "
        "short and ground it (29 CFR 1910.269(w)(1), from memory)."
    )
