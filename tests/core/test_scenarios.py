"""The isolation scenarios of the trade, told as they would be on the job."""

import pytest

from circuits.core.isolation import fence, live_paths, told, words
from circuits.core.network import Capacitor, Compiled, Load, Premises, Regulator, normally_open
from circuits.core.trace import Answer, Trace, trace
from circuits.core.whatif import what_if
from tests import networks


def out(state: Trace) -> set[str]:
    """The transformers whose customers are out."""
    return {name.split("/")[0] for name, found in state.premises().items() if found.out}


def said(compiled: Compiled, blocked: dict[str, str], limits: list[tuple[str, str]]) -> list[str]:
    return [words(compiled, path) for path in live_paths(compiled, blocked, limits)]


class TestS01SingleRadialTapOneCrew:
    """A lateral with one source cutout and no tie, generator or bank: one point is enough."""

    limits = [("P-1a", "B"), ("P-3", "B"), ("P-4", "B")]

    def test_before_the_cutout_is_open_the_feeder_is_named(self) -> None:
        compiled = networks.radial_tap()
        assert said(compiled, {}, self.limits) == ["feeder 30 > P-1 > C-301 (phase B)"]

    def test_one_point_blocks_every_source_and_the_customers_beyond_are_out_behind_it(self) -> None:
        compiled = networks.radial_tap()
        assert live_paths(compiled, {"C-301": "B"}, self.limits) == ()
        states = trace(compiled, {"C-301": "B"}).premises()
        assert {state.behind for state in states.values()} == {("C-301",)}
        assert [state.answer for state in states.values()] == [Answer.DEENERGIZED] * 5

    def test_the_devices_met_first_are_the_cutout_and_those_of_the_transformers(self) -> None:
        assert fence(networks.radial_tap(), self.limits) == ("C-301", "F-3", "F-4")

    def test_a_customer_behind_his_own_open_cutout_is_behind_that_one(self) -> None:
        states = trace(networks.radial_tap(), {"C-301": "B", "F-4": "B"}).premises()
        assert states["T-4/1"].behind == ("F-4",)
        assert states["T-3/1"].behind == ("C-301",)


class TestS02TwoLocationIsolation:
    """A section fed from C-208 and C-221, and only C-208 reported open."""

    limits = [("P-4", "ABC"), ("P-5", "ABC")]

    def test_the_live_path_is_named(self) -> None:
        compiled = networks.two_feed_section()
        paths = said(compiled, {"C-208": "ABC"}, self.limits)
        assert paths == ["feeder 12 > P-1 > P-9 > C-221 > P-5 (phases A, B, C)"]

    def test_both_ways_in_are_named_while_neither_is_open(self) -> None:
        paths = live_paths(networks.two_feed_section(), {}, self.limits)
        assert [path.devices for path in paths] == [("C-208",), ("C-221",)]

    def test_nothing_is_left_when_both_are_open(self) -> None:
        assert live_paths(networks.two_feed_section(), {"C-208": "ABC", "C-221": "ABC"}, self.limits) == ()

    def test_the_customers_are_still_energized(self) -> None:
        state = trace(networks.two_feed_section(), {"C-208": "ABC"})
        assert out(state) == set()
        assert state.why("P-3", "A") == "energized from ST"

    def test_when_both_are_open_the_customers_are_behind_both(self) -> None:
        states = trace(networks.two_feed_section(), {"C-208": "ABC", "C-221": "ABC"}).premises()
        assert {state.behind for state in states.values()} == {("C-208", "C-221")}


class TestS03ThreeSinglePhaseCutouts:
    """C-330 A and B reported open, C not."""

    def test_the_third_phase_is_a_live_path(self) -> None:
        compiled = networks.three_cutouts()
        paths = said(compiled, {"C-330": "AB"}, [("P-2", "ABC")])
        assert "feeder 30 > P-1 > C-330 > P-2 (phase C)" in paths

    def test_three_phase_customers_are_single_phased_and_never_called_out(self) -> None:
        states = trace(networks.three_cutouts(), {"C-330": "AB"}).premises()
        assert states["T-340/1"].answer is Answer.BACKFED
        assert states["T-340/1"].phases_out == "AB"

    def test_with_the_third_open_all_are_out(self) -> None:
        assert out(trace(networks.three_cutouts(), {"C-330": "ABC"})) == {"T-2", "T-340"}


class TestS13BackfeedAcrossPhasesThroughABank:
    """A is open, and beyond it a bank is still fed on B and C."""

    coupling_banks = [
        ("wye_grounded-delta", False),
        ("wye_grounded-wye", False),
        ("wye-wye", False),
        ("wye-delta", False),
        ("delta-wye_grounded", False),
        ("delta-delta", False),
        ("open_wye-open_delta", False),
        ("wye_grounded-wye_grounded", True),
    ]

    @pytest.mark.parametrize(("connection", "common_core"), coupling_banks)
    def test_the_open_phase_may_be_energized_from_the_others(
        self, connection: str, common_core: bool
    ) -> None:
        state = trace(networks.three_cutouts(connection, common_core=common_core), {"C-330": "A"})
        assert state.answer("P-2", "A") is Answer.BACKFED
        assert "may be energized from phases B, C through bank T-340" in state.why("P-2", "A")
        assert state.sources("P-2", "A") == ("ST",)
        assert state.premises()["T-2/1"].through[:1] == ("T-340",)
        assert out(state) == set()

    @pytest.mark.parametrize(("connection", "common_core"), coupling_banks)
    def test_isolation_needs_all_legs_open(self, connection: str, common_core: bool) -> None:
        compiled = networks.three_cutouts(connection, common_core=common_core)
        assert "feeder 30 > P-1 > C-330 > P-2 > P-3 > bank T-340 from phases B, C > P-2 (phase A)" in said(
            compiled, {"C-330": "A"}, [("P-2", "A")]
        )
        assert said(compiled, {"C-330": "AB"}, [("P-2", "A")]) != []
        assert said(compiled, {"C-330": "ABC"}, [("P-2", "A")]) == []

    def test_the_hard_case_the_banks_own_cutouts_closed_and_load_on_its_delta(self) -> None:
        compiled = networks.three_cutouts("wye_grounded-delta", load="delta")
        state = trace(compiled, {"C-330": "A"})
        assert state.why("P-2", "A") == (
            "may be energized from phases B, C through bank T-340: voltage not known"
        )
        assert state.premises()["T-340/1"].why == (
            "possibly backfed, voltage not known; phase A not energized behind C-330; "
            "voltage may come through T-340"
        )

    def test_opening_the_first_leg_says_so_beforehand(self) -> None:
        found = what_if(networks.three_cutouts("wye_grounded-delta"), {}, "C-330", "A", "open")
        assert (len(found.newly_out), len(found.newly_backfed)) == (0, 5)

    def test_single_units_without_a_three_phase_customer_do_not_couple(self) -> None:
        state = trace(networks.radial_tap(), {"C-301": "B"})
        assert state.answer("P-3", "B") is Answer.DEENERGIZED
        assert state.why("P-3", "B") == "de-energized by report: C-301 open"

    def test_a_bank_with_all_its_primary_energizes_its_secondary(self) -> None:
        state = trace(networks.three_cutouts("wye_grounded-delta"), {})
        assert state.answer("T-340s", "A") is Answer.ENERGIZED
        assert state.sources("T-340s", "A") == ("ST",)

    def test_a_bank_that_lost_one_leg_leaves_its_customer_with_voltage_not_known(self) -> None:
        state = trace(networks.three_cutouts("delta-delta"), {"C-330": "A"}).premises()["T-340/1"]
        assert (state.answer, state.phases_out, state.behind) == (Answer.BACKFED, "A", ("C-330",))


class TestOtherCouplings:
    """Whatever hangs between two phases may carry voltage from one to the other."""

    @pytest.mark.parametrize(
        "row",
        [
            Capacitor("K-2", "P-2", "ABC", "wye"),
            Capacitor("K-2", "P-2", "BC", "delta"),
            Load("K-2", "P-2", "BC", "delta"),
        ],
    )
    def test_ungrounded_capacitors_and_delta_loads_couple(self, row: Capacitor | Load) -> None:
        state = trace(networks.couplings(row), {"C-1": "C"})
        assert state.answer("P-2", "C") is Answer.BACKFED
        assert state.through("P-2", "C")[0][0].id == "K-2"

    @pytest.mark.parametrize(
        "row",
        [
            Capacitor("K-2", "P-2", "ABC", "wye_grounded"),
            Capacitor("K-2", "P-2", "C", "wye"),
            Load("K-2", "P-2", "ABC", "wye"),
        ],
    )
    def test_grounded_ones_do_not(self, row: Capacitor | Load) -> None:
        assert trace(networks.couplings(row), {"C-1": "C"}).answer("P-2", "C") is Answer.DEENERGIZED

    def test_a_phase_to_phase_unit_couples_its_two_phases(self) -> None:
        compiled = networks.couplings()
        state = trace(compiled, {"C-1": "A"})
        assert state.answer("P-2", "A") is Answer.BACKFED
        assert state.answer("T-2d", "B") is Answer.BACKFED
        assert "through unit T-2" in state.why("P-2", "A")
        assert any(
            "transformer T-2 from phase B" in path for path in said(compiled, {"C-1": "A"}, [("P-2", "A")])
        )

    def test_what_is_fed_over_two_couplings_in_a_row_is_not_called_deenergized(self) -> None:
        # C is dead but for the capacitor on B, which is dead but for the transformer on A.
        compiled = networks.couplings(Capacitor("K-2", "P-2", "BC", "delta"))
        state = trace(compiled, {"C-1": "BC"})
        assert state.answer("P-2", "C") is Answer.BACKFED
        assert (
            state.why("P-2", "C") == "may be energized from phase B through capacitor K-2: voltage not known"
        )

    def test_a_regulator_goes_through(self) -> None:
        compiled = networks.couplings(Regulator("R-2", "P-2", "P-2b", "ABC"))
        assert trace(compiled, {}).answer("P-2b", "A") is Answer.ENERGIZED


class TestS15CustomerGenerator:
    """One standby generator with a transfer switch on record, one unknown, one behind a seen disconnect."""

    limits = [("P-2", "ABC"), ("P-5", "ABC")]

    def test_the_unknown_one_is_a_possible_source_and_the_interlocked_one_is_told(self) -> None:
        compiled = networks.customer_machines()
        paths = live_paths(compiled, {"C-1": "ABC"}, self.limits)
        assert [path.source_id for path in paths] == ["unknown", "seen", "roof"]
        assert [path.source_id for path in told(compiled, {"C-1": "ABC"}, self.limits)] == ["known"]
        assert words(compiled, paths[0]) == "standby unknown > P-3 > P-2 (phase A)"

    def test_opening_its_disconnect_takes_a_machine_off_the_list(self) -> None:
        paths = live_paths(networks.customer_machines(), {"C-1": "ABC", "D-4": "B"}, self.limits)
        assert [path.source_id for path in paths] == ["unknown", "roof"]

    def test_a_phase_with_a_machine_still_joined_is_fed_by_it_at_most_and_its_customers_are_out(self) -> None:
        state = trace(networks.customer_machines(), {"C-1": "ABC"})
        assert state.answer("P-2", "A") is Answer.GENERATOR
        assert state.sources("P-2", "A") == ("unknown",)
        assert state.why("P-2", "A") == "a customer's generator may feed it: unknown"
        assert out(state) == {"T-2", "T-3", "T-4", "T-5"}

    def test_its_customers_are_told_whose_machine_it_is(self) -> None:
        states = trace(networks.customer_machines(), {"C-1": "ABC"}).premises()
        assert states["T-2/1"].why == (
            "a customer's generator may feed it: unknown; phase A not energized behind C-1"
        )
        assert trace(networks.customer_machines(), {}).premises()["T-2/1"].why == "energized from ST"

    def test_opening_the_cutout_of_its_transformer_takes_it_off_the_line_too(self) -> None:
        compiled = networks.secondary_tie(machine="none")
        limits = [("P-1", "B")]
        blocked = {"F-9": "B"}
        assert [path.source_id for path in live_paths(compiled, blocked, limits)][-1:] == ["roof"]
        assert "roof" not in [path.source_id for path in live_paths(compiled, blocked | {"F-7": "B"}, limits)]

    def test_behind_an_open_disconnect_the_line_is_deenergized_by_report_and_the_machine_is_not(self) -> None:
        state = trace(networks.customer_machines(), {"C-1": "ABC", "D-4": "B"})
        assert state.answer("P-4", "B") is Answer.DEENERGIZED
        assert state.answer("T-4g", "B") is Answer.GENERATOR


def test_s16_an_inverter_that_trips_by_itself_is_still_a_possible_source() -> None:
    paths = live_paths(networks.customer_machines(), {"C-1": "ABC"}, [("P-5", "C")])
    assert [(path.source_id, path.devices) for path in paths] == [("roof", ("D-5",))]


@pytest.mark.parametrize("means", ["visible", "interlocked", "none", "unknown"])
def test_s16_an_inverter_counts_whatever_is_on_record_of_its_disconnection(means: str) -> None:
    compiled = networks.secondary_tie(machine=means)
    assert trace(compiled, {"F-7": "B", "tie": "B"}).answer("P-1a", "B") is Answer.GENERATOR


class TestS17LoopThroughANormallyOpenTie:
    """Isolation ends at N-7, which is normally open: it must be checked, tagged and in the list all the
    same."""

    limits = [("P-1a", "ABC"), ("P-2", "ABC")]

    def test_a_tie_that_merely_stands_open_blocks_nothing(self) -> None:
        compiled = networks.two_stations()
        assert normally_open(compiled.network) == {"N-7": "ABC"}
        assert said(compiled, {"B-1": "ABC"}, self.limits) == [
            "feeder 14 > P-4 > B-2 > P-3 > P-2 > N-7 (phases A, B, C)"
        ]

    def test_the_tie_is_on_the_fence(self) -> None:
        assert fence(networks.two_stations(), self.limits) == ("B-1", "N-7")

    def test_tagged_it_blocks(self) -> None:
        assert live_paths(networks.two_stations(), {"B-1": "ABC", "N-7": "ABC"}, self.limits) == ()

    def test_closing_it_beforehand_would_parallel_two_stations(self) -> None:
        assert what_if(networks.two_stations(), {"N-7": "ABC"}, "N-7", "ABC", "close").made.sentences == (
            (
                "stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C), "
                "not on record as fit to be paralleled"
            ),
        )

    def test_customers_are_behind_the_breaker_that_was_opened_and_not_behind_the_tie(self) -> None:
        states = trace(networks.two_stations(), {"B-1": "ABC", "N-7": "ABC"}).premises()
        assert states["T-2/1"].behind == ("B-1",)

    def test_where_nothing_else_stands_open_the_tie_is_named(self) -> None:
        compiled = networks.secondary_tie(only_the_tie=True)
        assert trace(compiled, {"tie": "B"}).premises()["T-7/1"].behind == ("tie",)


class TestTwoFeeds:
    """A hospital on two transformers is out only when both are."""

    def test_one_feed_is_enough(self) -> None:
        states = trace(networks.two_stations(), {"B-1": "ABC", "N-7": "ABC"}).premises()
        assert states["T-2/1"].out
        assert states["hospital"].answer is Answer.ENERGIZED

    def test_out_when_both_are(self) -> None:
        states = trace(networks.two_stations(), {"B-1": "ABC", "N-7": "ABC", "B-2": "ABC"}).premises()
        assert states["hospital"].out

    @pytest.mark.parametrize("transfer", ["closed", "automatic", ""])
    def test_what_may_join_them_may_put_voltage_back_on_the_one_that_is_lost(self, transfer: str) -> None:
        compiled = networks.two_stations(transfer)
        state = trace(compiled, {"B-1": "ABC", "N-7": "ABC"})
        assert state.why("P-2", "A") == (
            "may be energized from phase B through second feed hospital: voltage not known"
        )
        assert said(compiled, {"B-1": "ABC", "N-7": "ABC"}, [("P-2", "ABC")]) == [
            "feeder 14 > P-4 > B-2 > P-3 > second feed of hospital from phase B > P-2 (phase A)"
        ]

    def test_a_transfer_that_breaks_before_it_makes_is_no_way(self) -> None:
        compiled = networks.two_stations("open")
        assert trace(compiled, {"B-1": "ABC", "N-7": "ABC"}).answer("P-2", "A") is Answer.DEENERGIZED
        assert said(compiled, {"B-1": "ABC", "N-7": "ABC"}, [("P-2", "ABC")]) == []


class TestS32FoundInOtherThanRecordedPosition:
    """The board has C-330 as closed; its B is found open, and nobody ordered it."""

    found = {"C-330": "B"}

    def test_the_customers_of_b_are_recalculated(self) -> None:
        compiled = networks.three_cutouts()
        as_recorded, as_found = trace(compiled, {}).premises(), trace(compiled, self.found).premises()
        assert as_recorded["T-340/1"].answer is Answer.ENERGIZED
        assert (as_found["T-340/1"].answer, as_found["T-340/1"].phases_out) == (Answer.BACKFED, "B")
        assert as_found["T-2/1"].answer is Answer.ENERGIZED

    def test_the_old_belief_stays_a_state_of_its_own(self) -> None:
        as_recorded = trace(networks.three_cutouts(), {})
        trace(as_recorded.compiled, self.found)
        assert as_recorded.why("P-2", "B") == "energized from ST"

    def test_what_relied_on_it_as_closed_is_proved_again(self) -> None:
        # A plan to open A and C alone would have put nobody out; on what was found it puts all out.
        relied = what_if(networks.three_cutouts(), {}, "C-330", "AC", "open")
        again = what_if(networks.three_cutouts(), self.found, "C-330", "AC", "open")
        assert (relied.newly_out, relied.newly_backfed) == (
            (),
            ("T-2/1", "T-2/2", "T-2/3", "T-2/4", "T-340/1"),
        )
        assert again.newly_out == ("T-2/1", "T-2/2", "T-2/3", "T-2/4", "T-340/1")

    def test_found_open_is_no_point_it_blocks_nothing_until_it_is_tagged(self) -> None:
        compiled = networks.three_cutouts()
        assert said(compiled, {}, [("P-2", "B")]) == ["feeder 30 > P-1 > C-330 > P-2 (phase B)"]

    def test_found_closed_a_proof_that_relied_on_it_fails(self) -> None:
        compiled = networks.two_feed_section()
        limits = [("P-4", "ABC")]
        assert said(compiled, {"C-208": "ABC", "C-221": "ABC"}, limits) == []
        assert said(compiled, {"C-208": "ABC", "C-221": "AC"}, limits) == [
            "feeder 12 > P-1 > P-9 > C-221 > P-5 > P-4 (phase B)"
        ]


class TestSecondaryTie:
    """A tie that stands closed joins two secondaries, and feeds a transformer backwards."""

    def test_a_closed_tie_feeds_the_other_transformer_backwards(self) -> None:
        compiled = networks.secondary_tie()
        assert trace(compiled, {"F-7": "B"}).answer("P-1a", "B") is Answer.ENERGIZED
        assert trace(compiled, {"F-7": "B", "tie": "B"}).answer("P-1a", "B") is Answer.DEENERGIZED
        assert said(compiled, {"F-7": "B"}, [("P-1a", "B")]) == ["feeder 12 > P-1 > F-9 > tie (phase B)"]


def test_limits_at_the_source_itself_are_reached_without_a_device() -> None:
    compiled = networks.couplings()
    paths = live_paths(compiled, {"C-1": "ABC"}, [("P-1", "ABC")])
    assert [(path.source_id, path.phases, path.devices) for path in paths] == [("ST", "ABC", ())]
    assert words(compiled, paths[0]) == "station ST > P-1 (phases A, B, C)"


class TestWhatIsNotThere:
    def test_unknown_ids_and_phases_are_named(self) -> None:
        compiled = networks.radial_tap()
        with pytest.raises(ValueError, match="no device C-999"):
            trace(compiled, {"C-999": "A"})
        with pytest.raises(ValueError, match="device C-301 has no phase A"):
            live_paths(compiled, {"C-301": "A"}, [("P-3", "B")])
        with pytest.raises(ValueError, match="no node P-99"):
            live_paths(compiled, {}, [("P-99", "B")])
        with pytest.raises(ValueError, match="node P-3 has no phase A"):
            trace(compiled, {}).answer("P-3", "A")

    def test_a_row_that_needs_what_is_not_there_is_named(self) -> None:
        with pytest.raises(ValueError, match="capacitor K-2 refers to node P-77, which is not there"):
            networks.couplings(Capacitor("K-2", "P-77", "AB", "delta"))
        with pytest.raises(ValueError, match="load K-2 needs phase C at node T-2s, which has none such"):
            networks.couplings(Load("K-2", "T-2s", "BC", "delta"))
        assert Premises("x", "T", "U").transformers == ("T", "U")
