"""The example with its clock times, on the network of that morning: order 41's isolate half, and its slips.

Since 7:30 clearance 42 has J-207 lifted and C-208 open, so all 62 customers of the section hang on C-221.
"""

from circuits.core.isolation import fence, live_paths, told, words
from circuits.core.limits import Limits, between
from circuits.core.network import Compiled, normally_open
from circuits.core.trace import Answer, PremisesState, Trace, trace

SECTION = ("T-210", "T-212", "T-213", "T-217", "T-218", "T-219", "T-220")
POINTS = {"C-208": "ABC", "C-221": "ABC", "D-219": "B", "D-212": "B"}


def limits_of_41(demo: Compiled) -> Limits:
    return between(demo, "P-213", "P-218", "ABC")


def after(demo: Compiled, **opened: str) -> Trace:
    """The morning with J-207 and C-208 open, and further devices: their phases by name, `_` for `-`."""
    further = {name.replace("_", "-"): phases for name, phases in opened.items()}
    return trace(demo, normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"} | further)


def customers(demo: Compiled, state: Trace) -> dict[str, list[PremisesState]]:
    """Each transformer of the section with the states of its customers."""
    states = state.premises()
    return {
        name: [states[one.id] for one in demo.network.premises if one.transformer == name] for name in SECTION
    }


def count_out(demo: Compiled, state: Trace) -> int:
    return sum(one.out for found in customers(demo, state).values() for one in found)


def still_live(demo: Compiled, blocked: dict[str, str]) -> list[str]:
    return [words(demo, path) for path in live_paths(demo, blocked, limits_of_41(demo).nodes)]


class TestTheRequest:
    def test_the_limits_run_from_pole_to_pole_and_not_down_to_the_transformers(self, demo: Compiled) -> None:
        limits = limits_of_41(demo)
        assert [node for node, _ in limits.nodes] == ["P-213", "P-214", "P-215", "P-216", "P-217", "P-218"]
        assert ("L-214-215", "ABC") in limits.lines

    def test_every_possible_source_is_listed(self, demo: Compiled) -> None:
        assert still_live(demo, {}) == [
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phases A, B, C)",
            "feeder 12 > B-12 > P-201 > P-207 > J-207 > P-208 > C-208 > P-209 > P-213 (phases A, B, C)",
            "inverter INV-212 > 14 Quarry Lane > D-212 > P-212 > F-212 > P-213 (phase B)",
            "standby GEN-219 > 41 Quarry Lane > D-219 > P-219 > F-219 > P-218 (phase B)",
            "standby GEN-219 > 41 Quarry Lane > D-219 > P-219 > S-217 > P-217 > F-217 (phase B)",
        ]
        assert told(demo, {}, limits_of_41(demo).nodes) == ()

    def test_the_devices_first_met_in_every_direction(self, demo: Compiled) -> None:
        cutouts = tuple(f"F-{number}" for number in (210, 212, 213, 217, 218, 219, 220))
        assert fence(demo, limits_of_41(demo).nodes) == ("C-208", "C-221", *cutouts)


class TestTheMinutes:
    def test_8_34_with_c_208_checked_open_all_62_are_energized_from_c_221(self, demo: Compiled) -> None:
        state = after(demo)
        answers = {one.answer for found in customers(demo, state).values() for one in found}
        assert answers == {Answer.ENERGIZED}
        assert count_out(demo, state) == 0
        paths = live_paths(demo, {"C-208": "ABC"}, limits_of_41(demo).nodes)
        assert [path.devices for path in paths if path.source_id == "ST-1"] == [("B-12", "C-221")]

    def test_8_41_phase_a_may_be_backfed_through_t_218(self, demo: Compiled) -> None:
        state = after(demo, C_221="A")
        found = customers(demo, state)
        assert [one.answer for one in found["T-210"]] == [Answer.BACKFED] * 8
        assert {(one.phases_out, one.behind, one.through) for one in found["T-210"]} == {
            ("A", ("C-208", "C-221"), ("T-218",))
        }
        assert state.why("P-210", "A") == (
            "may be energized from phases B, C through bank T-218: voltage not known"
        )

    def test_8_41_the_pump_station_is_on_two_phases(self, demo: Compiled) -> None:
        (pump,) = customers(demo, after(demo, C_221="A"))["T-218"]
        assert (pump.answer, pump.phases_out, pump.out) == (Answer.BACKFED, "A", False)

    def test_8_41_customers_on_b_and_c_are_still_energized(self, demo: Compiled) -> None:
        found = customers(demo, after(demo, C_221="A"))
        on_b_and_c = [one.answer for name in SECTION if name not in ("T-210", "T-218") for one in found[name]]
        assert on_b_and_c == [Answer.ENERGIZED] * 53

    def test_8_43_with_only_c_left_a_and_b_are_not_known_and_nobody_is_called_out(
        self, demo: Compiled
    ) -> None:
        state = after(demo, C_221="AB")
        found = customers(demo, state)
        not_known = [name for name in SECTION if {one.answer for one in found[name]} == {Answer.BACKFED}]
        assert not_known == ["T-210", "T-212", "T-217", "T-218", "T-219"]
        assert (
            state.why("P-212", "B") == "may be energized from phase C through bank T-218: voltage not known"
        )
        assert count_out(demo, state) == 0

    def test_8_44_all_62_are_out(self, demo: Compiled) -> None:
        state = after(demo, C_221="ABC")
        assert count_out(demo, state) == 62
        assert {one.behind for found in customers(demo, state).values() for one in found} == {
            ("C-208", "C-221")
        }

    def test_8_44_the_generator_and_the_inverter_may_still_feed_the_line(self, demo: Compiled) -> None:
        state = after(demo, C_221="ABC")
        assert state.answer("P-216", "B") is Answer.GENERATOR
        assert state.sources("P-216", "B") == ("GEN-219", "INV-212")
        # And through the bank the other phases as well.
        assert state.answer("P-216", "A") is Answer.GENERATOR
        assert len(still_live(demo, {"C-208": "ABC", "C-221": "ABC"})) >= 2

    def test_8_46_nothing_is_left_that_is_not_blocked(self, demo: Compiled) -> None:
        state = after(demo, C_221="ABC", D_219="B", D_212="B")
        assert {state.answer(node, phase) for node, phase in POINTS_INSIDE} == {Answer.DEENERGIZED}
        assert state.why("P-216", "B") == "de-energized by report: C-208, C-221 open"
        assert still_live(demo, POINTS) == []


POINTS_INSIDE = [(f"P-{number}", phase) for number in range(209, 221) for phase in "ABC"]


class TestTheSlipsOfOrder41:
    def test_step_2_left_out_on_phase_b_energizes_b_up_to_c_208(self, demo: Compiled) -> None:
        state = after(demo, C_221="AC", D_219="B", D_212="B")
        assert state.answer("P-216", "B") is Answer.ENERGIZED
        assert state.answer("P-208b", "B") is Answer.ENERGIZED
        assert state.answer("P-208", "B") is Answer.DEENERGIZED

    def test_and_a_and_c_are_possibly_backfed_through_t_218(self, demo: Compiled) -> None:
        state = after(demo, C_221="AC", D_219="B", D_212="B")
        for phase in "AC":
            assert state.why("P-216", phase) == (
                "may be energized from phase B through bank T-218: voltage not known"
            )

    def test_and_the_clearance_is_refused_by_the_live_path(self, demo: Compiled) -> None:
        assert still_live(demo, POINTS | {"C-221": "AC"}) == [
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phase B)",
        ]

    def test_step_3_left_out_lets_the_generator_feed_phase_b_through_its_transformer(
        self, demo: Compiled
    ) -> None:
        state = after(demo, C_221="ABC", D_212="B")
        assert state.answer("P-216", "B") is Answer.GENERATOR
        assert state.sources("P-216", "B") == ("GEN-219",)
        assert still_live(demo, {name: found for name, found in POINTS.items() if name != "D-219"}) == [
            "standby GEN-219 > 41 Quarry Lane > D-219 > P-219 > F-219 > P-218 (phase B)",
            "standby GEN-219 > 41 Quarry Lane > D-219 > P-219 > S-217 > P-217 > F-217 (phase B)",
        ]

    def test_c_280_operated_for_c_208_leaves_41_fed_and_takes_280s_customers_out(
        self, demo: Compiled
    ) -> None:
        state = trace(demo, normally_open(demo.network) | {"C-221": "ABC", "C-280": "ABC"})
        assert count_out(demo, state) == 0
        out = {one.transformer for one in demo.network.premises if state.premises()[one.id].out}
        assert out == {"T-291", "T-292", "T-293"}

    def test_step_6_left_out_leaves_t_217_fed_backwards_over_the_secondary_tie(self, demo: Compiled) -> None:
        # Stage 2, after step 11: C-221 closed again, T-217's own cutout open.
        state = trace(demo, normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC", "F-217": "B"})
        assert state.answer("P-217t", "B") is Answer.ENERGIZED
        stage_2 = [("T-217s", "B"), ("P-217t", "B")]
        paths = [
            words(demo, path)
            for path in live_paths(demo, {"F-217": "B", "D-219": "B", "D-212": "B"}, stage_2)
        ]
        assert paths == [
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-219 > F-219 > S-217 > P-217 (phase B)"
        ]
        assert live_paths(demo, {"F-217": "B", "S-217": "B"}, stage_2) == ()
