"""What the proof of isolation says in the scenarios of the trade, and what it asks for."""

import datetime

import pytest

from circuits.core.limits import between
from circuits.core.network import (
    Compiled,
    Device,
    Network,
    Node,
    Source,
    compile_network,
    normally_open,
)
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import Line, Proof, Status, prove
from tests import networks

NOT_BLOCKED, NOT_KNOWN, BLOCKED = Status


def says(proof: Proof) -> list[tuple[str, str, str, str]]:
    """Status, phases, source, and the point or the measure of each line."""
    return [
        (
            str(line.status),
            line.phases,
            line.source,
            line.point or (line.measure.words if line.measure else ""),
        )
        for line in proof.lines
    ]


def named(proof: Proof, source: str) -> list[Line]:
    return [line for line in proof.lines if line.source == source]


class TestTheExample:
    """Clearance 41, P-213 to P-218, on the morning of the job: C-208 is open under 42's tag since 7:30."""

    points = {"C-208": "ABC", "C-221": "ABC", "D-219": "B", "D-212": "B"}

    def proof(self, demo: Compiled, **points: str) -> Proof:
        points = {name.replace("_", "-"): phases for name, phases in points.items()}
        morning = normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"}
        return prove(demo, between(demo, "P-213", "P-218", "ABC").nodes, points, Opened(demo, morning))

    def test_before_the_first_step_it_names_every_source_and_what_to_do(self, demo: Compiled) -> None:
        tag = "make it inoperable, hang a tag of this clearance"
        by_wire = [line for line in says(self.proof(demo)) if line[1] in ("ABC", "B")]
        transfer = (
            f"Open D-219 (41 Quarry Lane) on phase B, {tag}; or have the transfer switch of standby GEN-219"
        )
        assert by_wire == [
            ("not blocked", "ABC", "ST-1", f"Open C-221 (P-221) on phases A, B, C, {tag}."),
            ("not blocked", "B", "INV-212", f"Open D-212 (14 Quarry Lane) on phase B, {tag}."),
            ("cannot be known", "ABC", "ST-1", f"Check C-208 (P-208) on phases A, B, C open, {tag}."),
            ("cannot be known", "B", "GEN-219", f"{transfer} looked at."),
            ("cannot be known", "B", "GEN-219", f"{transfer} looked at."),
        ]

    def test_each_way_is_of_one_status_the_loudest_first(self, demo: Compiled) -> None:
        proof = self.proof(demo, C_208="ABC", D_212="B")
        of_each = [proof.of(status) for status in (NOT_BLOCKED, NOT_KNOWN, BLOCKED)]
        assert all(of_each)
        assert sum(of_each, ()) == proof.lines

    def test_before_the_first_step_the_bank_takes_the_machines_to_the_other_phases(
        self, demo: Compiled
    ) -> None:
        through = [line.words for line in self.proof(demo).lines if line.phases == "AC"]
        assert through == [
            (
                "inverter INV-212 > 14 Quarry Lane > D-212 > P-212 > F-212 > P-213 > P-218 > F-218 > bank "
                "T-218 from phase B > F-218 (phases A, C)"
            ),
            (
                "standby GEN-219 > 41 Quarry Lane > D-219 > P-219 > F-219 > P-218 > F-218 > bank "
                "T-218 from phase B > F-218 (phases A, C)"
            ),
        ]

    def test_8_46_everything_is_blocked_by_a_point_that_it_names(self, demo: Compiled) -> None:
        proof = self.proof(demo, C_208="ABC", C_221="ABC", D_219="B", D_212="B")
        assert proof.stands
        assert {(line.source, line.point) for line in proof.lines} == {
            ("ST-1", "C-221"),
            ("ST-1", "C-208"),
            ("GEN-219", "D-219"),
            ("INV-212", "D-212"),
        }
        (by_221,) = [line for line in proof.lines if line.point == "C-221"]
        assert (by_221.phases, by_221.words) == (
            "ABC",
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phases A, B, C)",
        )

    def test_phase_b_left_closed_at_c_221_comes_to_all_phases_through_the_bank(self, demo: Compiled) -> None:
        proof = self.proof(demo, C_208="ABC", C_221="AC", D_219="B", D_212="B")
        live = [(line.phases, line.words) for line in proof.of(NOT_BLOCKED)]
        assert live == [
            ("B", "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phase B)"),
            (
                "AC",
                (
                    "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 > F-218 > bank "
                    "T-218 from phase B > F-218 (phases A, C)"
                ),
            ),
        ]
        assert proof.broken == proof.of(NOT_BLOCKED)

    def test_c_221_is_one_open_only_and_j_207_and_c_208_are_two_in_a_row(self, demo: Compiled) -> None:
        proof = self.proof(demo, C_208="ABC", C_221="ABC", D_219="B", D_212="B")
        assert {line.depth for line in named(proof, "ST-1")} == {
            "one open only: one device closed by mistake lets it in"
        }
        without_221 = Network(
            nodes=demo.network.nodes,
            lines=tuple(line for line in demo.network.lines if line.id != "L-220-221"),
            devices=tuple(device for device in demo.network.devices if device.id != "C-221"),
            transformers=demo.network.transformers,
            sources=demo.network.sources,
            premises=demo.network.premises,
        )
        alone = compile_network(without_221)
        opened = Opened(alone, normally_open(without_221) | {"J-207": "ABC"})
        limits = between(demo, "P-213", "P-218", "ABC").nodes
        proof = prove(alone, limits, {"C-208": "ABC"}, opened)
        assert {line.depth for line in named(proof, "ST-1")} == {"2 opens in a row"}


class TestTheSlipsOfTheOrders:
    """F2's part of the proof: each slip that would hurt a crew is a line that is not blocked.

    With step 2 left out on phase B see above.
    """

    def test_step_3_left_out_the_standby_generator_cannot_be_known(self, demo: Compiled) -> None:
        limits = between(demo, "P-213", "P-218", "ABC").nodes
        proof = prove(demo, limits, {"C-208": "ABC", "C-221": "ABC", "D-212": "B"})
        assert {(line.status, line.source) for line in proof.broken} == {(NOT_KNOWN, "GEN-219")}
        assert proof.of(NOT_BLOCKED) == ()

    def test_step_6_left_out_t_217_is_fed_backwards_over_the_secondary_tie(self, demo: Compiled) -> None:
        # Stage 2, after step 11: C-221 closed again, T-217's own cutout open.
        opened = Opened(demo, normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"})
        stage_2 = [("T-217s", "B"), ("P-217t", "B")]
        points = {"F-217": "B", "D-219": "B", "D-212": "B"}
        (line,) = prove(demo, stage_2, points, opened).broken
        assert (line.status, line.words) == (
            NOT_BLOCKED,
            "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-219 > F-219 > S-217 > P-217 (phase B)",
        )
        assert line.measure is not None
        assert line.measure.words.startswith("Open S-217")
        assert prove(demo, stage_2, points | {"S-217": "B"}, opened).stands


class TestS02TwoLocations:
    limits = [("P-4", "ABC"), ("P-5", "ABC")]

    def test_the_end_that_is_tagged_blocks_and_the_other_does_not(self) -> None:
        proof = prove(networks.two_feed_section(), self.limits, {"C-208": "ABC"})
        assert [(line.status, line.words, line.point) for line in proof.lines] == [
            (NOT_BLOCKED, "feeder 12 > P-1 > P-9 > C-221 > P-5 (phases A, B, C)", ""),
            (BLOCKED, "feeder 12 > P-1 > P-2 > C-208 > P-3 > P-4 (phases A, B, C)", "C-208"),
        ]
        assert not proof.stands
        assert [line.depth for line in proof.lines] == [
            "no open stands between",
            "blocked this way only: it comes in by another",
        ]


class TestS13ABank:
    def test_with_one_leg_left_the_other_phases_are_not_blocked(self) -> None:
        proof = prove(networks.three_cutouts("wye_grounded-delta"), [("P-2", "A")], {"C-330": "AB"})
        assert [line.words for line in proof.broken] == [
            "feeder 30 > P-1 > C-330 > P-2 > P-3 > bank T-340 from phase C > P-2 (phase A)"
        ]
        assert prove(networks.three_cutouts("wye_grounded-delta"), [("P-2", "A")], {"C-330": "ABC"}).stands


class TestS15And16CustomersMachines:
    def limits_of(self, compiled: Compiled) -> list[tuple[str, str]]:
        return [("P-1a", "ABC")]

    @pytest.mark.parametrize(
        ("means", "status", "refuses", "measure"),
        [
            ("visible", NOT_BLOCKED, True, "open"),
            ("none", NOT_BLOCKED, True, "open"),
            ("unknown", NOT_KNOWN, True, "open"),
            ("interlocked", NOT_KNOWN, False, "look"),
        ],
    )
    def test_a_standby_generator_by_what_is_on_record(
        self, means: str, status: Status, refuses: bool, measure: str
    ) -> None:
        proof = prove(behind_a_cutout("standby", means), [("tap", "A")], {})
        (line,) = proof.lines
        assert line.measure is not None
        assert (line.status, line.refuses, line.measure.kind) == (status, refuses, measure)
        assert proof.stands is not refuses

    def test_an_inverter_s_own_trip_is_no_point(self) -> None:
        (line,) = prove(behind_a_cutout("inverter", "interlocked"), [("tap", "A")], {}).lines
        assert (line.status, line.refuses) == (NOT_BLOCKED, True)

    def test_what_no_device_parts_asks_for_a_test_and_the_holder(self) -> None:
        (line,) = prove(behind_a_cutout("inverter", "none"), [("end", "A")], {}).lines
        assert line.measure is not None
        assert (line.measure.kind, line.measure.words) == (
            "test",
            (
                "No device parts inverter G from the limits: test for voltage at end on phase A, put "
                "ground sets on, agree."
            ),
        )
        proof = prove(behind_a_cutout("inverter", "none"), [("end", "A")], {}, agreed={"G"})
        (line,) = proof.lines
        assert line.measure is not None
        assert (line.status, line.measure.words, proof.stands) == (
            NOT_KNOWN,
            "Agreed on: test for voltage at end on phase A, ground sets stand against inverter G.",
            True,
        )

    def test_several_that_come_in_over_one_device_are_one_line(self) -> None:
        compiled = behind_a_cutout("inverter", "visible", more=2)
        (line,) = prove(compiled, [("tap", "A")], {}).lines
        assert line.further == (("G1", 0, "A"), ("G2", 0, "A"))
        assert line.measure is not None
        assert line.measure.device == "F-1"
        compiled = behind_a_cutout("standby", "unknown", more=1)
        (line,) = prove(compiled, [("tap", "A")], {}).lines
        assert line.measure is not None
        assert line.measure.words.endswith("or have the transfer switch of standby G, G1 looked at.")


def behind_a_cutout(kind: str, means: str, more: int = 0) -> Compiled:
    """
    tap -[F-1]- end: G, G1, ...
    """
    machines = tuple(Source(f"G{number or ''}", "end", kind, "A", means) for number in range(more + 1))
    return compile_network(
        Network(
            nodes=(Node("tap", "A"), Node("end", "A")),
            devices=(Device("F-1", "tap", "end", "A", "A"),),
            sources=machines,
        )
    )


class TestS17ATieThatStandsOpen:
    """N-7 is normally open: it counts only once it is checked, made inoperable and tagged."""

    limits = [("P-2", "ABC")]

    def test_untagged_it_cannot_be_known(self) -> None:
        proof = prove(networks.two_stations(), self.limits, {"B-1": "ABC"})
        (line,) = proof.broken
        assert line.measure is not None
        assert (line.status, line.source, line.measure.kind, line.measure.device) == (
            NOT_KNOWN,
            "ST-2",
            "check",
            "N-7",
        )
        assert line.measure.words == (
            "Check N-7 (P-2) on phases A, B, C open, make it inoperable, hang a tag of this clearance."
        )

    def test_tagged_it_blocks(self) -> None:
        assert prove(networks.two_stations(), self.limits, {"B-1": "ABC", "N-7": "ABC"}).stands

    def test_what_only_a_customer_s_own_gear_keeps_out_asks_for_a_test(self) -> None:
        points = {"B-1": "ABC", "N-7": "ABC"}
        proof = prove(networks.two_stations(transfer="closed"), self.limits, points)
        assert not proof.stands
        assert {line.measure.words for line in proof.broken if line.measure} == {
            "Test for voltage at P-2 on phase A: whether service hospital carries any over is not on record."
        }


class TestWhatIsWrongWithTheLimits:
    def test_a_pole_and_a_phase_that_are_not_there_are_said_and_the_rest_is_proved(self) -> None:
        proof = prove(networks.radial_tap(), [("P-3", "B"), ("P-99", "B"), ("P-3", "C")], {"C-301": "B"})
        assert proof.faults == (
            "The limits can't be read on this network: no node P-99.",
            "The limits can't be read on this network: node P-3 has no phase C.",
        )
        assert [(line.phases, line.status) for line in proof.lines] == [("B", BLOCKED)]
        assert not proof.stands
        assert not proof.broken

    def test_limits_that_touch_nothing(self) -> None:
        proof = prove(networks.radial_tap(), [], {})
        assert proof.faults == ("The limits touch nothing: they name no pole and no phase.",)
        assert not proof.stands

    def test_limits_with_a_source_inside(self) -> None:
        (line,) = prove(networks.gang_switch(), [("P-1", "ABC")], {"G-1": "ABC"}).lines
        assert line.measure is not None
        assert (line.status, line.opens, line.measure.words) == (
            NOT_BLOCKED,
            0,
            "Draw the limits so that a device lies between them and station ST.",
        )

    def test_limits_that_no_source_on_record_reaches(self) -> None:
        compiled = compile_network(
            Network(nodes=(Node("n", "AB"),), sources=(Source("ST", "n", "station", "A"),))
        )
        proof = prove(compiled, [("n", "AB")], {})
        assert proof.notes == (
            (
                "No source on record reaches phase B of the limits, even with every device closed: look "
                "whether the record is right."
            ),
        )

    def test_points_that_keep_nothing_out_and_points_that_are_gone(self) -> None:
        proof = prove(
            networks.radial_tap(), [("P-3", "B")], {"C-301": "ABC", "F-4": "B", "C-9": "B", "F-3": ""}
        )
        assert proof.stands
        assert proof.notes == (
            "Point C-9 is not on the network as it is now: it blocks nothing.",
            "Point F-4 keeps no source on record out of these limits.",
        )


class TestWhatItRestsOn:
    def test_it_says_the_revision_the_moment_what_it_assumes_and_what_is_not_on_record(self) -> None:
        at = datetime.datetime(2026, 5, 3, 8, 46, tzinfo=datetime.UTC)
        proof = prove(networks.radial_tap(), [("P-3", "B")], {"C-301": "B"}, as_of=at)
        assert (proof.revision, proof.as_of) == (0, at)
        assert any("made inoperable and under a tag of this clearance" in text for text in proof.assumed)
        assert any("temporary jumper" in text for text in proof.not_on_record)

    def test_it_never_promises(self) -> None:
        proof = prove(networks.radial_tap(), [("P-3", "B")], {"C-301": "B"})
        text = " ".join(
            [*proof.assumed, *proof.not_on_record, *(line.words + line.depth for line in proof.lines)]
        )
        assert not {"safe", "%", "isolated"} & set(text.lower().split())

    def test_reports_that_have_the_points_already_are_used_as_they_are(self) -> None:
        compiled = networks.radial_tap()
        opened = Opened(compiled, {"C-301": "B", "F-3": "B"})
        assert opened.with_also({"C-301": "B"}) is opened
        assert opened.with_also({"F-3": ""}) is opened
        assert opened.with_also({"F-4": "B"}).phases == {"C-301": "B", "F-3": "B", "F-4": "B"}
