"""What one operation would do, in the words that people read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.network import Network, compile_network
from circuits.core.trace import Answer, trace
from circuits.core.whatif import what_if
from tests import networks
from tests.core.made_networks import states


class TestOpening:
    def test_a_lateral(self) -> None:
        found = what_if(networks.radial_tap(), {}, "C-301", "B", "open")
        assert found.sentences == (
            "5 customers would be out: 3 of T-3, 2 of T-4.",
            "Phase B at P-1, P-3 and P-4: now energized from ST; then de-energized by report: C-301 open.",
        )
        assert found.newly_out == ("T-3/1", "T-3/2", "T-3/3", "T-4/1", "T-4/2")
        assert found.newly_backfed == found.back == ()
        assert (found.premises_before[Answer.ENERGIZED], found.premises_after[Answer.DEENERGIZED]) == (5, 5)
        assert found.node_phases_before[Answer.ENERGIZED] == 13
        assert found.node_phases_after == {
            Answer.ENERGIZED: 6,
            Answer.BACKFED: 0,
            Answer.GENERATOR: 0,
            Answer.DEENERGIZED: 7,
        }
        assert found.sources_lost == ("ST",)

    def test_what_stands_open_already(self) -> None:
        found = what_if(networks.radial_tap(), {"C-301": "B"}, "C-301", "B", "open")
        assert found.moved == ""
        assert found.sentences == ("Phase B of C-301 stands open already: nothing would change.",)

    def test_of_three_phases_of_which_one_stands_open(self) -> None:
        found = what_if(networks.three_cutouts(), {"C-330": "A"}, "C-330", "ABC", "open")
        assert found.moved == "BC"
        assert found.sentences[0] == "Phase A of C-330 stands open already."

    def test_one_phase_under_a_bank(self) -> None:
        found = what_if(networks.three_cutouts("wye_grounded-delta"), {}, "C-330", "A", "open")
        assert found.newly_backfed == ("T-2/1", "T-2/2", "T-2/3", "T-2/4", "T-340/1")
        assert found.sentences == (
            (
                "5 customers would be on part of their phases, or on a voltage that is not known: "
                "4 of T-2, 1 of T-340."
            ),
            (
                "Phase A at P-1, P-2 and P-3: now energized from ST; "
                "then may be energized from phases B, C through bank T-340: voltage not known."
            ),
            (
                "Phases A, B, C: now energized from ST; "
                "then may be energized from phases B, C through bank T-340: voltage not known."
            ),
        )

    def test_one_of_two_ways(self) -> None:
        found = what_if(networks.two_feed_section(), {}, "C-208", "B", "open")
        assert found.sentences == ("This would end: a loop is closed by C-208 and C-221 (phase B).",)

    def test_where_nothing_hangs_on_it(self) -> None:
        found = what_if(networks.two_feed_section(), {"C-221": "ABC"}, "C-221", "ABC", "close")
        assert found.sentences == ("A loop is closed by C-208 and C-221 (phases A, B, C).",)
        found = what_if(networks.secondary_tie(), {"F-7": "B", "F-9": "B"}, "tie", "B", "open")
        assert found.sentences == ("No place would have another answer.",)

    def test_one_phase_of_what_moves_with_one_handle(self) -> None:
        stuck = what_if(networks.gang_switch(), {}, "G-1", "AB", "open").sentences
        assert stuck[0] == "All phases of G-1 move with one handle; this is about phases A, B alone."
        whole = what_if(networks.gang_switch(), {}, "G-1", "ABC", "open").sentences
        assert whole == (
            "Phases A, B, C at P-1: now energized from ST; then de-energized by report: G-1 open.",
        )

    def test_the_source_that_a_part_is_left_with(self) -> None:
        found = what_if(networks.two_stations(first="one", second="one"), {}, "N-7", "ABC", "open")
        assert found.sources_lost == ("ST-1", "ST-2")
        assert found.sentences == (
            "This would end: stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C).",
        )

    def test_one_of_two_feeds(self) -> None:
        found = what_if(networks.two_stations(), {"N-7": "ABC"}, "B-1", "ABC", "open")
        assert found.one_feed_lost == ("hospital",)
        assert found.newly_out == ("T-2/1", "T-2/2")
        assert "Premises hospital would have one of its two feeds left, if its transfer is made." in (
            found.sentences
        )

    def test_a_phase_of_a_second_feed_may_come_back_through_the_premises(self) -> None:
        found = what_if(networks.two_stations("closed"), {"N-7": "ABC"}, "B-1", "ABC", "open")
        assert found.newly_backfed == ("T-2/1", "T-2/2")
        assert found.undone.two_feeds != ()


class TestClosing:
    def test_a_lateral(self) -> None:
        found = what_if(networks.radial_tap(), {"C-301": "B"}, "C-301", "B", "close")
        assert found.sentences[0] == "5 customers would be energized that are not now: 3 of T-3, 2 of T-4."
        assert found.back == ("T-3/1", "T-3/2", "T-3/3", "T-4/1", "T-4/2")

    def test_two_stations(self) -> None:
        found = what_if(networks.two_stations(), {"N-7": "ABC"}, "N-7", "ABC", "close")
        assert found.sentences == (
            (
                "Stations ST-1 and ST-2 are paralleled by B-1, N-7 and B-2 (phases A, B, C), "
                "not on record as fit to be paralleled."
            ),
        )

    def test_unlike_phases(self) -> None:
        found = what_if(networks.unlike_tie(), {"tie": "B"}, "tie", "B", "close")
        assert found.sentences == ("Unlike phases are joined by tie: phase C and phase B.",)

    def test_a_line_on_which_a_generator_may_run(self) -> None:
        found = what_if(networks.customer_machines(), {"C-1": "ABC"}, "C-1", "ABC", "close")
        assert found.machines == ("unknown", "seen", "roof")
        assert found.sentences[0] == (
            "If running, unknown, seen and roof would be joined to what is energized."
        )


class TestTheSizeOfWhatIsBroken:
    def test_by_phase_and_a_bank_spread_over_its_phases(self) -> None:
        compiled = networks.sized()
        found = what_if(compiled, {}, "C-1", "AB", "open")
        assert found.kva == {"A": 50.0, "B": 25.0}
        assert found.sentences[-1] == (
            "It would break the load of transformers of 50 kVA on phase A, 25 kVA on phase B."
        )
        found = what_if(compiled, {"C-1": "ABC"}, "C-1", "C", "close")
        assert found.sentences[-1] == "It would pick up the load of transformers of 25 kVA on phase C."


class TestWhatIsNotThere:
    @pytest.mark.parametrize(
        ("device", "phases", "operation", "said"),
        [
            ("C-999", "A", "open", "no device C-999"),
            ("C-301", "A", "open", "device C-301 has no phase A"),
            ("C-301", "", "open", "no phase of C-301 is named"),
            ("C-301", "B", "test", "test is no operation: write open or close"),
            ("C-301", "B", "", "nothing is no operation: write open or close"),
        ],
    )
    def test_is_said_in_a_sentence(self, device: str, phases: str, operation: str, said: str) -> None:
        with pytest.raises(ValueError, match=said):
            what_if(networks.radial_tap(), {}, device, phases, operation)


@given(states(), st.data())
def test_the_counts_and_lists_are_those_of_two_traces(
    case: tuple[Network, dict[str, str]], data: st.DataObject
) -> None:
    network, open_phases = case
    compiled = compile_network(network)
    if not compiled.switches:
        return
    switch = data.draw(st.sampled_from(compiled.switches))
    operation = data.draw(st.sampled_from(["open", "close"]))
    found = what_if(compiled, open_phases, switch.device.id, switch.device.phases, operation)
    opened = {**open_phases, switch.device.id: switch.device.phases if operation == "open" else ""}
    before, after = trace(compiled, open_phases), trace(compiled, opened)
    for state, counted in ((before, found.node_phases_before), (after, found.node_phases_after)):
        answers = [state.answer(*point) for point in compiled.points]
        assert counted == {answer: answers.count(answer) for answer in Answer}
    had, has = before.premises(), after.premises()
    assert set(found.newly_out) == {name for name in had if has[name].out and not had[name].out}
    changed = {name for name in had if has[name].answer is not had[name].answer}
    assert set(found.back) == {name for name in changed if has[name].answer is Answer.ENERGIZED}
    assert set(found.newly_backfed) == {name for name in changed if has[name].answer is Answer.BACKFED}
    points = {(node, phase) for run in found.runs for node in run.nodes for phase in run.phases}
    assert points == {point for point in compiled.points if before.answer(*point) is not after.answer(*point)}
    assert all(sentence.endswith(".") and sentence[0] == sentence[0].upper() for sentence in found.sentences)
