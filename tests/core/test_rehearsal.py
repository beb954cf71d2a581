"""An order played move by move: the example's morning, and what happens where the networks differ."""

from circuits.core.limits import between
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.rehearsing.rehearsal import CLOSE, OPEN, Crew, Frame, Move, Order, Part, rehearse
from circuits.core.trace import Answer
from tests.core.test_example_after import as_left
from tests.core.test_slips import ISOLATE, RESTORE


def of_41(demo: Compiled, *parts: Part) -> tuple[Frame, ...]:
    inside = between(demo, "P-213", "P-218", "ABC").nodes
    nodes = frozenset((node, phase) for node, phases in inside for phase in phases)
    opened = normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"}
    return rehearse(Order(parts, opened, (Crew("clearance 41", nodes, 4),)))


def test_each_frame_says_who_is_out_and_who_is_on_part_of_the_phases(demo: Compiled) -> None:
    stuck = (ISOLATE[0], Move("2", "C-221", "A", OPEN), Move("3", "C-221", "BC", OPEN))
    frames = of_41(demo, Part(demo, stuck))
    assert [len(frame.newly_out) for frame in frames] == [0, 0, 9, 53]
    (pump,) = [one.id for one in demo.network.premises if one.transformer == "T-218"]
    assert [frame.single_phased for frame in frames] == [(), (), (pump,), ()]
    assert [len(frame.back) for frame in frames] == [0] * 4


def test_the_loop_of_the_morning_stands_and_each_thing_joined_is_told_once(demo: Compiled) -> None:
    frames = of_41(
        demo, Part(demo, (*ISOLATE, Move("7", "S-217", "B", CLOSE), Move("8", "F-217", "B", CLOSE)))
    )
    assert [frame.made.sentences for frame in frames if frame.made.sentences] == [
        ("a loop is closed by F-217, F-219 and S-217 (phase B)",),
        ("a loop is closed by F-217, F-219 and S-217 (phase B)",),
    ]
    assert [frame.number for frame in frames if frame.made.loops] == [0, 8]


def test_whoever_stands_on_what_changes_is_named(demo: Compiled) -> None:
    closes = Move("6", "C-221", "B", CLOSE)
    frames = of_41(demo, Part(demo, (*ISOLATE[:4], Move("5", "C-280", "ABC", OPEN), closes)))
    assert [[(crew.name, phases) for crew, phases in frame.stood_on] for frame in frames] == [
        [], [], [], [], [("clearance 41", "ABC")], [], [("clearance 41", "ABC")],
    ]  # fmt: skip


def test_the_restore_half_is_played_on_the_network_as_it_was_left(demo: Compiled) -> None:
    left = compile_network(as_left(demo.network))
    frames = of_41(demo, Part(demo, ISOLATE), Part(left, RESTORE, {"N-15": "ABC"}))
    first = len(ISOLATE) + 1
    # T-217's tap has moved to C while its cutout was open: C is open now, and step 12 closes C.
    assert (frames[first - 1].open_phases["F-217"], frames[first].open_phases["F-217"]) == ("B", "C")
    assert frames[first].open_phases["N-15"] == "ABC"
    assert frames[-1].open_phases["F-217"] == ""
    assert [frame.ends for frame in frames] == [False] * 6 + [True] + [False] * 8 + [True]
    assert not frames[-1].out
    # What a network has not is not compared.
    assert frames[first].answer("P-217t", "B") is None
    assert frames[first - 1].answer("P-217t", "B") is Answer.DEENERGIZED


def test_a_device_that_the_work_has_taken_away_is_not_moved(demo: Compiled) -> None:
    left = compile_network(as_left(demo.network))
    with_it, without = Move("1", "N-15", "ABC", CLOSE), Move("2", "N-15", "ABC", OPEN)
    frames = of_41(demo, Part(left, (with_it,), {"N-15": "ABC"}), Part(demo, (without,)))
    assert [frame.open_phases.get("N-15") for frame in frames] == ["ABC", "", None, None]
