"""What the proof of isolation says in the scenarios of the trade, and what it asks for."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from circuits.core.limits import between
from circuits.core.network import (
    Capacitor,
    Compiled,
    Device,
    Load,
    Network,
    Node,
    Premises,
    Source,
    Transformer,
    compile_network,
    normally_open,
)
from circuits.core.network import Line as LineOf
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


class TestADeviceThatIsCrossedTwice:
    """One handle closes all phases of a device: it is one open, wherever a way crosses it."""

    def test_side_by_side(self) -> None:
        """
        *ST -A- near ==[X]== far (T) between A and B; the work is phase B at `near`
        """
        network = Network(
            nodes=(Node("near", "AB"), Node("far", "AB"), Node("s", "A")),
            devices=(Device("X", "near", "far", "AB", ""),),
            transformers=(Transformer("T", "far", "s", "AB", "phase_to_phase"),),
            sources=(Source("ST", "near", "station", "A"),),
        )
        (line,) = prove(compile_network(network), [("near", "B")], {"X": "AB"}).lines
        assert (line.opens, line.point) == (1, "X")

    def test_far_apart(self) -> None:
        """
        *ST -A- near ==[X]== mid ==[Y]== far (T) between A and B; the work is phase B at `near`
        """
        network = Network(
            nodes=(Node("near", "AB"), Node("mid", "AB"), Node("far", "AB"), Node("s", "A")),
            devices=(Device("X", "near", "mid", "AB", ""), Device("Y", "mid", "far", "AB", "")),
            transformers=(Transformer("T", "far", "s", "AB", "phase_to_phase"),),
            sources=(Source("ST", "near", "station", "A"),),
        )
        (line,) = prove(compile_network(network), [("near", "B")], {"X": "AB"}).lines
        assert (line.opens, line.depth) == (2, "2 opens in a row")

    def test_a_second_place_is_free_even_where_a_way_without_the_device_costs_as_much_so_far(self) -> None:
        """To h both ways close two devices, C-1 and C-2 or X and C-3; from there only X leads on.

        p.A -[C-1]- m -[C-2]- h.A     p.A -[X]- q.A -[C-3]- h.A
        h.A =(load in delta)= h.B, the wire of p.B -[X]- q.B *ST
        """
        ends = {"C-1": ("p", "m"), "C-2": ("m", "h"), "C-3": ("q", "h")}
        compiled = compile_network(
            Network(
                nodes=(Node("p", "AB"), Node("m", "A"), Node("h", "AB"), Node("q", "AB")),
                lines=(LineOf("L", "h", "p", "B"),),
                devices=(
                    *(Device(name, at[0], at[1], "A", "") for name, at in ends.items()),
                    Device("X", "p", "q", "AB", ""),
                ),
                loads=(Load("K", "h", "AB", "delta"),),
                sources=(Source("ST", "q", "station", "B"),),
            )
        )
        section = {at: int(compiled.section[compiled.index[at]]) for at in (("p", "A"), ("q", "B"))}
        opened = Opened(compiled, {"C-1": "A", "C-2": "A", "C-3": "A", "X": "AB"})
        assert opened.between([section["p", "A"]], np.array([section["q", "B"]])).tolist() == [2]


def test_points_of_many_other_clearances_on_all_their_phases_are_soon_looked_through() -> None:
    """
        main ABC --+-- C-0a --+-- span 0      and so on, 24 spans with two gang devices each, all open
                   +-- C-0b --+

    Each device joins three pairs of islands, far apart from each other; tried are not all sets of them.
    """
    spans = range(24)
    devices = [
        Device(f"C-{span}{end}", "main", f"span {span}", "ABC", closed="ABC")
        for span in spans
        for end in "ab"
    ]
    compiled = compile_network(
        Network(
            nodes=(Node("main", "ABC"), *(Node(f"span {span}", "ABC") for span in spans)),
            devices=tuple(devices),
            sources=(Source("ST", "main", "station", "ABC"),),
        )
    )
    opened = Opened(compiled, {device.id: "ABC" for device in devices})
    lines = prove(compiled, [("span 0", "ABC")], {"C-0a": "ABC", "C-0b": "ABC"}, opened).lines
    assert [(line.status, line.phases, line.point, line.opens) for line in lines] == [
        (BLOCKED, "ABC", "C-0a", 1),
        (BLOCKED, "ABC", "C-0b", 1),
    ]


def test_a_second_way_round_an_open_device_is_told_once_and_over_what_is_closed() -> None:
    """Beyond E-2 the node x is met over D-1, which is open, and over D-2 and D-4, which are closed."""
    ends = {"E-1": "wa", "E-2": "wb", "D-1": "bx", "D-2": "by", "D-4": "yx", "D-3": "xa"}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "wabxy"),
            devices=tuple(Device(name, at[0], at[1], "A", closed="A") for name, at in ends.items()),
            sources=(Source("station", "a", "station", "A"),),
        )
    )
    proof = prove(compiled, [("w", "A")], {}, Opened(compiled, {"D-1": "A", "D-3": "A"}))
    assert [(line.status, line.path.devices) for line in proof.lines] == [
        (NOT_BLOCKED, ("E-1",)),
        (NOT_KNOWN, ("D-3", "D-4", "D-2", "E-2")),
    ]


def test_a_device_within_the_limits_is_no_way_in() -> None:
    ends = {"E-1": "wa", "E-2": "ab"}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "wab"),
            devices=tuple(Device(name, at[0], at[1], "A", closed="A") for name, at in ends.items()),
            sources=(Source("station", "b", "station", "A"),),
        )
    )
    proof = prove(compiled, [("w", "A"), ("a", "A")], {"E-2": "A"}, Opened(compiled, {"E-2": "A"}))
    assert [(line.status, line.point) for line in proof.lines] == [(BLOCKED, "E-2")]


@pytest.mark.parametrize("ends", [{"N-7": "ab", "C-1": "bw"}, {"C-1": "ab", "N-7": "bw"}])
def test_phases_that_a_point_blocks_on_one_way_are_one_line_whatever_else_stands_open(
    ends: dict[str, str],
) -> None:
    """N-7 stands open on phase A, without a tag, before C-1 or behind it.

    *ST-a =[N-7]= b =[C-1]= w      a -A-[C-9]- w
    """
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "AB") for name in "abw"),
            devices=(
                *(Device(name, at[0], at[1], "AB", closed="AB") for name, at in ends.items()),
                Device("C-9", "a", "w", "A", closed="A"),
            ),
            sources=(Source("ST-a", "a", "station", "AB"),),
        )
    )
    proof = prove(compiled, [("w", "AB")], {"C-1": "AB", "C-9": "A"}, Opened(compiled, {"N-7": "A"}))
    assert [(line.phases, line.point, line.opens) for line in proof.lines] == [
        ("A", "C-9", 1),
        ("AB", "C-1", 1),
    ]
    assert {line.measure for line in proof.lines} == {None}


@pytest.mark.parametrize("nearer", ["A-1", "Z-1"])
def test_of_an_open_device_without_a_tag_it_is_asked_that_it_be_checked_whatever_is_nearer(
    nearer: str,
) -> None:
    """
    *ST-a -<N-7>- b -[nearer]- w
    """
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "abw"),
            devices=(Device("N-7", "a", "b", "A", closed=""), Device(nearer, "b", "w", "A", closed="A")),
            sources=(Source("ST-a", "a", "station", "A"),),
        )
    )
    (line,) = prove(compiled, [("w", "A")], {}).lines
    assert line.measure is not None
    assert (line.measure.kind, line.measure.device) == ("check", "N-7")


def test_of_two_services_on_a_way_the_one_nearer_the_limits_is_asked_about() -> None:
    """P joins A and B on one secondary, Q joins B and C on another.

    *ST -C- main =(T-Q: Q)= B =(T-P: P)= A, the limits
    """
    connection = "wye_grounded-wye_grounded"
    compiled = compile_network(
        Network(
            nodes=(Node("w", "ABC"), Node("low-P", "AB"), Node("low-Q", "BC")),
            transformers=(
                Transformer("T-P", "w", "low-P", "AB", connection),
                Transformer("T-Q", "w", "low-Q", "BC", connection),
            ),
            sources=(Source("ST", "w", "station", "C"),),
            premises=(Premises("P", "T-P"), Premises("Q", "T-Q")),
        )
    )
    (line,) = prove(compiled, [("w", "A")], {}).lines
    assert line.measure is not None
    assert (line.status, line.measure.words) == (
        NOT_KNOWN,
        "Test for voltage at w on phase A: whether service P carries any over is not on record.",
    )


def in_a_row(devices: int) -> Compiled:
    """
    *ST -[1]- -[2]- ... -[devices]- the last node, which has the number of the last device
    """
    return compile_network(
        Network(
            nodes=tuple(Node(f"{number}", "A") for number in range(devices + 1)),
            devices=tuple(
                Device(f"D-{number}", f"{number - 1}", f"{number}", "A", closed="A")
                for number in range(1, devices + 1)
            ),
            sources=(Source("ST", "0", "station", "A"),),
        )
    )


def test_a_way_over_three_hundred_devices_is_told_device_by_device() -> None:
    compiled = in_a_row(300)
    assert compiled.sections == 301
    every = tuple(f"D-{number}" for number in range(1, 301))
    opened = Opened(compiled, dict.fromkeys(every[:290], "A"))
    (line,) = prove(compiled, [("300", "A")], {"D-295": "A", "D-298": "A"}, opened).lines
    assert (line.status, line.point, line.opens, line.path.devices) == (BLOCKED, "D-298", 292, every)


def beside_a_load(closed: str) -> Compiled:
    """Leg A of the tie joins what the load in delta couples as well, and the service too.

    *ST -B- w =(load K, service of P)= A     w.A -[S-1]- other.B, the same wire as w.B
    """
    return compile_network(
        Network(
            nodes=(Node("main", "B"), Node("w", "AB"), Node("other", "B"), Node("low", "AB")),
            lines=(LineOf("L-1", "main", "w", "B"), LineOf("L-2", "main", "other", "B")),
            devices=(Device("S-1", "w", "other", "A", closed=closed, kind="secondary_tie"),),
            loads=(Load("K", "w", "AB", "delta"),),
            transformers=(Transformer("T", "w", "low", "AB", "wye_grounded-wye_grounded"),),
            sources=(Source("ST", "main", "station", "B"),),
            premises=(Premises("P", "T"),),
        )
    )


class TestWhatLeadsTheSameWay:
    """Between wires that a device, a load in delta and a service join it is told over what is surest."""

    def over(self, compiled: Compiled, opened: str, *limits: tuple[str, str]) -> list[tuple[str, Status]]:
        lines = prove(compiled, limits, {}, Opened(compiled, {"S-1": opened})).lines
        crossed = ("device", "load", "customer")
        return [(one.id, line.status) for line in lines for one in line.path.elements if one.kind in crossed]

    def test_over_the_device_that_is_closed_a_person_can_open_it(self) -> None:
        assert self.over(beside_a_load("A"), "", ("w", "A")) == [("S-1", NOT_BLOCKED)]

    def test_over_the_load_when_the_device_is_reported_open(self) -> None:
        assert self.over(beside_a_load(""), "A", ("w", "A")) == [("K", NOT_BLOCKED), ("S-1", NOT_KNOWN)]


def test_a_closed_way_over_a_device_is_told_though_a_source_behind_an_open_one_comes_over_it_too() -> None:
    """Who opens E and tags N-7 must know that D has to be opened as well.

    *ST-a -[E]- w -[D]- b -<N-7>- *ST-c      a -[K]- b
    """
    ends = {"E": "aw", "D": "bw", "N-7": "cb", "K": "ab"}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "abcw"),
            devices=tuple(
                Device(name, at[0], at[1], "A", closed="" if name == "N-7" else "A")
                for name, at in ends.items()
            ),
            sources=tuple(Source(f"ST-{name}", name, "station", "A") for name in "ac"),
        )
    )
    assert [
        (one.status, one.source, one.path.devices) for one in prove(compiled, [("w", "A")], {}).lines
    ] == [
        (NOT_BLOCKED, "ST-a", ("E",)),
        (NOT_BLOCKED, "ST-a", ("K", "D")),
        (NOT_KNOWN, "ST-c", ("N-7", "D")),
    ]


def test_both_ways_round_a_ring_of_six_hundred_devices_are_told() -> None:
    row = in_a_row(599).network
    ring = replace(row, devices=(*row.devices, Device("D-600", "599", "0", "A", closed="A")))
    proof = prove(compile_network(ring), [("300", "A")], {})
    there = tuple(f"D-{number}" for number in range(1, 301))
    back = tuple(f"D-{number}" for number in range(600, 300, -1))
    assert {line.path.devices for line in proof.lines} == {there, back}


class TestSourcesThatComeInTheSameWay:
    """They are one line: over the same last point, or else over the same device next to the limits.

    The node in between is the first of the network.

    *ST-d -[D-3]- c* -[D-2]- a -[D-1]- w -[D-4]- e*      a station at c too, and at e
    """

    ends = {"D-1": "aw", "D-2": "ca", "D-3": "dc", "D-4": "ew"}

    def told(self, *points: str) -> list[tuple[str, str, tuple[str, ...]]]:
        compiled = compile_network(
            Network(
                nodes=tuple(Node(name, "A") for name in "aecdw"),
                devices=tuple(Device(name, at[0], at[1], "A", closed="A") for name, at in self.ends.items()),
                sources=tuple(Source(f"ST-{name}", name, "station", "A") for name in "cde"),
            )
        )
        lines = prove(compiled, [("w", "A")], dict.fromkeys(points, "A")).lines
        return [(one.point, one.source, tuple(name for name, *_ in one.further)) for one in lines]

    def test_over_the_device_next_to_the_limits(self) -> None:
        assert self.told() == [("", "ST-e", ()), ("", "ST-c", ("ST-d",))]

    def test_over_the_last_point_whatever_other_points_are_before_it(self) -> None:
        assert self.told("D-1") == [("", "ST-e", ()), ("D-1", "ST-c", ("ST-d",))]
        assert self.told("D-2") == [("", "ST-e", ()), ("D-2", "ST-c", ("ST-d",))]
        assert self.told("D-2", "D-3") == [("", "ST-e", ()), ("D-2", "ST-c", ("ST-d",))]

    def test_a_source_on_this_side_of_the_point_is_a_line_of_its_own(self) -> None:
        assert self.told("D-3") == [("", "ST-e", ()), ("", "ST-c", ()), ("D-3", "ST-d", ())]

    def test_past_each_of_two_points_next_to_the_limits(self) -> None:
        assert self.told("D-1", "D-4") == [("D-4", "ST-e", ()), ("D-1", "ST-c", ("ST-d",))]

    def test_past_each_of_two_points_behind_one_device(self) -> None:
        """
        *ST-c -[P-1]- x -[D]- w      x -[P-2]- e *ST-e
        """
        ends = {"D": "xw", "P-1": "cx", "P-2": "ex"}
        compiled = compile_network(
            Network(
                nodes=tuple(Node(name, "A") for name in "cexw"),
                devices=tuple(Device(name, at[0], at[1], "A", closed="A") for name, at in ends.items()),
                sources=tuple(Source(f"ST-{name}", name, "station", "A") for name in "ce"),
            )
        )
        lines = prove(compiled, [("w", "A")], {"P-1": "A", "P-2": "A"}).lines
        assert [(one.point, one.source, one.further) for one in lines] == [
            ("P-1", "ST-c", ()),
            ("P-2", "ST-e", ()),
        ]

    def test_through_a_load_from_the_same_wire_or_from_another(self) -> None:
        """A, B and C of w are coupled; machines G and H are on B, I on C."""
        compiled = compile_network(
            Network(
                nodes=(Node("w", "ABC"),),
                loads=(Load("K", "w", "ABC", "delta"),),
                sources=tuple(
                    Source(name, "w", "inverter", phase, "visible")
                    for name, phase in {"G": "B", "H": "B", "I": "C"}.items()
                ),
            )
        )
        lines = prove(compiled, [("w", "A")], {}).lines
        assert [(one.source, one.further) for one in lines] == [("G", (("H", 0, "A"),)), ("I", ())]


def test_points_with_the_limits_own_side_behind_them_keep_nothing_out() -> None:
    """Past P-1 there is only x, and past P-2 the wire that feeds the limits anyway.

    *ST-y -[D]- w -[P-1]- x -[P-2]- y
    """
    ends = {"D": "yw", "P-1": "wx", "P-2": "xy"}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "wxy"),
            devices=tuple(Device(name, at[0], at[1], "A", closed="A") for name, at in ends.items()),
            sources=(Source("ST-y", "y", "station", "A"),),
        )
    )
    proof = prove(compiled, [("w", "A")], {"P-1": "A", "P-2": "A"})
    assert [(line.status, line.point) for line in proof.lines] == [(NOT_BLOCKED, "")]
    assert proof.notes == (
        "Point P-1 keeps no source on record out of these limits.",
        "Point P-2 keeps no source on record out of these limits.",
    )


@pytest.mark.parametrize(
    ("point", "n_7", "status"),
    [
        ("", "A", NOT_BLOCKED),
        ("", "", NOT_KNOWN),
        ("D", "A", BLOCKED),
    ],
)
def test_over_a_device_that_has_been_told_no_nearer_machine_is_told_again(
    point: str, n_7: str, status: Status
) -> None:
    """The station, which comes in over D too, is told first; x is the first node, D the first device.

    *ST-a -[K]- g* -<N-7>- x -[D]- w      an inverter at g
    """
    ends = {"D": "xw", "N-7": "gx", "K": "ag"}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "xwga"),
            devices=tuple(
                Device(name, at[0], at[1], "A", closed=n_7 if name == "N-7" else "A")
                for name, at in ends.items()
            ),
            sources=(Source("ST-a", "a", "station", "A"), Source("G", "g", "inverter", "A", "visible")),
        )
    )
    (line,) = prove(compiled, [("w", "A")], {point: "A"} if point else {}).lines
    assert (line.status, line.source) == (status, "ST-a")
    assert [name for name, *_ in line.further] == ["G"]


@pytest.mark.parametrize(
    ("coupling", "among_others", "status"),
    [
        ("load", True, NOT_BLOCKED),
        ("service", True, NOT_KNOWN),
        ("service", False, NOT_KNOWN),
    ],
)
def test_another_way_in_is_as_sure_as_what_it_goes_through(
    coupling: str, among_others: bool, status: Status
) -> None:
    """The first and the last of the couplings are a capacitor and a service, far away at z.

    *ST-a -A-[E]- w -A-[D]- b =(load, or service of P)= b -B-[F]- a
    """
    ends = {"E": ("aw", "A"), "D": ("wb", "A"), "F": ("ab", "B")}
    connection = "wye_grounded-wye_grounded"
    services = [("P", "b")] * (coupling == "service") + [("Q", "z")] * among_others
    compiled = compile_network(
        Network(
            nodes=(Node("w", "A"), *(Node(name, "AB") for name in ("a", "b", "z", "low-b", "low-z"))),
            devices=tuple(Device(name, at[0], at[1], has, has) for name, (at, has) in ends.items()),
            capacitors=(Capacitor("C", "z", "AB", "wye"),) * among_others,
            loads=(Load("K", "b", "AB", "delta"),) * (coupling == "load"),
            transformers=tuple(
                Transformer(f"T-{node}", node, f"low-{node}", "AB", connection) for _, node in services
            ),
            premises=tuple(Premises(name, f"T-{node}") for name, node in services),
            sources=(Source("ST-a", "a", "station", "AB"),),
        )
    )
    assert [(line.status, line.path.devices) for line in prove(compiled, [("w", "A")], {}).lines] == [
        (NOT_BLOCKED, ("E",)),
        (status, ("F", "D")),
    ]
