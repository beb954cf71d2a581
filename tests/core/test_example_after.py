"""The example from 11:20 on, on the network as it was left: the span P-214 to P-215 is gone, N-15 stands open
in its place, and T-217 hangs on phase C, so the two sides of its secondary tie derive from C and B.
"""

from dataclasses import replace

import pytest

from circuits.core.isolation import live_paths, words
from circuits.core.limits import between
from circuits.core.network import Compiled, Device, Network, compile_network, normally_open
from circuits.core.parallels import parallels
from circuits.core.trace import Answer, Trace, trace
from circuits.core.whatif import WhatIf, what_if
from tests.core.test_example import SECTION, after, count_out, customers

HALF_208 = ("T-210", "T-212", "T-213")
# 11:41, before C-221 closes: clearance 42 still holds J-207 and C-208, 43 holds F-217 and the tie S-217, and
# T-212's inverter disconnect stays with its owner until C-208 closes.
AT_11_41 = {"J-207": "ABC", "C-208": "ABC", "C-221": "ABC", "F-217": "C", "S-217": "B", "D-212": "B"}


def as_left(network: Network) -> Network:
    """The change set that the foreman confirmed as built at 11:20."""

    def moved(phases: str, name: str) -> str:
        return "C" if name in ("P-217t", "T-217s", "F-217", "T-217") else phases

    n_15 = Device(
        "N-15", "P-214", "P-215", "ABC", closed="", kind="gang_switch", operation="gang", circuit="12"
    )
    return replace(
        network,
        revision=2,
        lines=tuple(line for line in network.lines if line.id != "L-214-215"),
        nodes=tuple(replace(node, phases=moved(node.phases, node.id)) for node in network.nodes),
        transformers=tuple(replace(one, phases=moved(one.phases, one.id)) for one in network.transformers),
        devices=(
            *(
                replace(
                    device,
                    phases=moved(device.phases, device.id),
                    closed="" if device.id == "S-217" else moved(device.closed, device.id),
                )
                for device in network.devices
            ),
            n_15,
        ),
    )


@pytest.fixture(scope="module")
def left(demo: Compiled) -> Compiled:
    return compile_network(as_left(demo.network))


def at(left: Compiled, opened: dict[str, str]) -> dict[str, str]:
    return normally_open(left.network) | opened


def asked(compiled: Compiled, opened: dict[str, str], device: str, phases: str, operation: str) -> WhatIf:
    return what_if(compiled, at(compiled, opened), device, phases, operation)


def out(compiled: Compiled, state: Trace) -> dict[str, int]:
    """How many customers of each transformer are out, where any are."""
    found = {name: sum(one.out for one in states) for name, states in customers(compiled, state).items()}
    return {name: count for name, count in found.items() if count}


class TestTheMinutesBeforehand:
    """8:34 to 8:46, each asked before it is done: J-207 and C-208 are open."""

    opened = {"J-207": "ABC", "C-208": "ABC"}

    def test_in_the_morning_c_208_and_c_221_no_longer_close_a_loop(self, demo: Compiled) -> None:
        normal = parallels(trace(demo, normally_open(demo.network)))
        assert normal.sentences == (
            "a loop is closed by C-208, C-221 and J-207 (phases A, B, C)",
            "a loop is closed by F-217, F-219 and S-217 (phase B)",
        )
        assert [loop.devices for loop in parallels(after(demo)).loops] == [("F-217", "F-219", "S-217")]

    def test_8_34_to_check_c_208_open_changes_nothing(self, demo: Compiled) -> None:
        found = asked(demo, self.opened, "C-208", "ABC", "open")
        assert found.sentences == ("Phases A, B, C of C-208 stand open already: nothing would change.",)

    def test_8_41_phase_a_would_leave_9_on_a_voltage_that_is_not_known(self, demo: Compiled) -> None:
        found = asked(demo, self.opened, "C-221", "A", "open")
        assert (len(found.newly_out), len(found.newly_backfed)) == (0, 9)
        assert found.sentences == (
            (
                "9 customers would be on part of their phases, or on a voltage that is not known: "
                "8 of T-210, 1 of T-218."
            ),
            (
                "Phase A at P-208, P-209 and 12 more places: now energized from ST-1; "
                "then may be energized from phases B, C through bank T-218: voltage not known."
            ),
            (
                "Phases A, B, C at P-218: now energized from ST-1; "
                "then may be energized from phases B, C through bank T-218: voltage not known."
            ),
            "It would break the load of transformers of 50 kVA on phase A.",
        )

    def test_8_43_phase_b_would_leave_30_more_and_nobody_out(self, demo: Compiled) -> None:
        found = asked(demo, self.opened | {"C-221": "A"}, "C-221", "B", "open")
        assert (len(found.newly_out), len(found.newly_backfed)) == (0, 30)
        assert found.kva == {"B": 112.5}

    def test_8_44_phase_c_would_put_all_62_out(self, demo: Compiled) -> None:
        found = asked(demo, self.opened | {"C-221": "AB"}, "C-221", "C", "open")
        assert len(found.newly_out) == 62
        assert found.premises_after[Answer.GENERATOR] == 62
        assert found.sources_lost == ("ST-1",)

    def test_8_46_the_two_disconnects_would_leave_nothing_that_may_feed_it(self, demo: Compiled) -> None:
        opened = self.opened | {"C-221": "ABC", "D-219": "B"}
        found = asked(demo, opened, "D-212", "B", "open")
        assert found.premises_after[Answer.DEENERGIZED] == 62
        assert {run.then for run in found.runs} >= {"de-energized by report: C-208, C-221 open"}


class TestTheNetworkAsLeft:
    def test_the_section_is_two_radial_laterals_that_meet_at_n_15(self, left: Compiled) -> None:
        state = trace(left, normally_open(left.network))
        assert parallels(state).sentences == ()
        assert count_out(left, state) == 0
        assert normally_open(left.network)["N-15"] == "ABC"

    def test_the_proof_runs_again_on_it(self, left: Compiled) -> None:
        # From the point N-15 the two halves are cut off each by its own cutout.
        half_221 = between(left, "P-216", "P-220", "ABC").nodes
        half_208 = between(left, "P-209", "P-213", "ABC").nodes
        points = {"N-15": "ABC", "D-219": "B", "D-212": "B"}
        assert live_paths(left, points | {"C-221": "ABC"}, half_221) == ()
        assert live_paths(left, points | {"C-208": "ABC"}, half_208) == ()
        assert live_paths(left, points | {"C-208": "ABC"}, half_221) != ()

    def test_t_217_is_behind_c_221_on_phase_c(self, left: Compiled) -> None:
        found = asked(left, {}, "C-221", "C", "open")
        assert "9 of T-217" in found.sentences[0]
        assert "T-217" not in asked(left, {}, "C-221", "B", "open").sentences[0]

    def test_closing_n_15_would_close_the_loop_again(self, left: Compiled) -> None:
        assert asked(left, {}, "N-15", "ABC", "close").sentences == (
            "A loop is closed by C-208, C-221, J-207 and N-15 (phases A, B, C).",
        )

    def test_with_n_15_open_closing_c_221_returns_30_and_23_stay_out(self, left: Compiled) -> None:
        state = trace(left, at(left, AT_11_41))
        assert count_out(left, state) == 62
        found = asked(left, AT_11_41, "C-221", "ABC", "close")
        assert (len(found.back), len(found.newly_out)) == (30, 0)
        assert found.sentences[:2] == (
            "If running, GEN-219 would be joined to what is energized.",
            "30 customers would be energized that are not now: 1 of T-218, 10 of T-219, 19 of T-220.",
        )
        assert found.sentences[-1] == (
            "It would pick up the load of transformers of 25 kVA on phase A, 50 kVA on phase B, "
            "75 kVA on phase C."
        )


class TestTheMinutesAfterwards:
    """11:46 to 14:55."""

    at_11_46 = {name: phases for name, phases in AT_11_41.items() if name != "C-221"}
    at_14_10 = {name: phases for name, phases in at_11_46.items() if name != "F-217"}

    def test_11_46_30_are_on_and_32_out(self, left: Compiled) -> None:
        state = trace(left, at(left, self.at_11_46))
        assert out(left, state) == {"T-210": 8, "T-212": 11, "T-213": 4, "T-217": 9}
        assert state.answer("T-217s", "C") is Answer.DEENERGIZED
        assert state.premises()[self.of(left, "T-217")].behind == ("F-217",)

    def test_11_46_the_primary_above_stage_2_is_energized_and_nothing_reaches_its_work(
        self, left: Compiled
    ) -> None:
        assert trace(left, at(left, self.at_11_46)).answer("P-217", "C") is Answer.ENERGIZED
        assert live_paths(left, {"F-217": "C", "S-217": "B"}, [("T-217s", "C"), ("P-217t", "C")]) == ()

    def test_with_the_tie_left_closed_t_217_would_be_fed_backwards(self, left: Compiled) -> None:
        found = asked(left, self.at_11_46, "S-217", "B", "close")
        assert len(found.back) == 9
        assert found.made.sentences == ("unlike phases are joined by S-217: phase C and phase B",)
        (way,) = live_paths(left, {"F-217": "C", "D-219": "B", "D-212": "B"}, [("T-217s", "C")])
        assert words(left, way) == (
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-219 > F-219 > S-217 > P-217 (phase C)"
        )

    def test_14_10_39_are_on_and_23_out(self, left: Compiled) -> None:
        found = asked(left, self.at_11_46, "F-217", "C", "close")
        assert len(found.back) == 9
        state = trace(left, at(left, self.at_14_10))
        assert out(left, state) == {"T-210": 8, "T-212": 11, "T-213": 4}
        assert sum(not one.out for found in customers(left, state).values() for one in found) == 39

    def test_14_10_the_tie_may_never_be_closed_again(self, left: Compiled) -> None:
        found = asked(left, self.at_14_10, "S-217", "B", "close")
        assert found.sentences == ("Unlike phases are joined by S-217: phase C and phase B.",)
        assert found.newly_out == found.newly_backfed == found.back == ()

    def test_14_10_the_old_picture_knew_nothing_of_it(self, demo: Compiled) -> None:
        opened = {"J-207": "ABC", "C-208": "ABC", "S-217": "B"}
        found = what_if(demo, normally_open(demo.network) | opened, "S-217", "B", "close")
        assert found.made.unlike == ()

    def test_14_55_all_62_are_on_and_nothing_is_looped(self, left: Compiled) -> None:
        jumpers_up = self.at_14_10 | {"J-207": "", "D-212": ""}
        found = asked(left, jumpers_up, "C-208", "ABC", "close")
        assert len(found.back) == 23
        assert found.made.sentences == ()
        state = trace(left, at(left, {}))
        assert count_out(left, state) == 0
        assert {one.answer for states in customers(left, state).values() for one in states} == {
            Answer.ENERGIZED
        }

    def test_14_55_to_close_c_208_before_the_jumpers_are_up_energizes_nobody(self, left: Compiled) -> None:
        found = asked(left, self.at_14_10, "C-208", "ABC", "close")
        assert found.back == ()
        # With the old, looped picture in mind it would have energized the tap span from C-221.
        looped = asked(left, self.at_14_10 | {"N-15": ""}, "C-208", "ABC", "close")
        assert "P-208" in {node for run in looped.runs for node in run.nodes}

    @staticmethod
    def of(compiled: Compiled, transformer: str) -> str:
        """One of its customers."""
        return next(one.id for one in compiled.network.premises if one.transformer == transformer)


def test_each_of_the_62_is_somewhere(left: Compiled) -> None:
    counted = {name: len(found) for name, found in customers(left, trace(left, {})).items()}
    assert sum(counted.values()) == 62
    assert set(counted) == {*SECTION}
    assert sum(counted[name] for name in HALF_208) == 23
