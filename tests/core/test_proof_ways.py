"""Which ways in the proof tells, and how many opens it counts, on small networks drawn for it."""

from dataclasses import replace

import numpy as np
import pytest

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
)
from circuits.core.network import Line as LineOf
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import Status, prove
from tests.core.test_proof_says import BLOCKED, NOT_BLOCKED, NOT_KNOWN


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
