"""Orders played on small networks, each frame read off the drawing."""

from circuits.core.network import (
    Compiled,
    Device,
    Network,
    Node,
    Premises,
    Source,
    Transformer,
    compile_network,
)
from circuits.core.rehearsing.rehearsal import (
    CHECK_OPEN,
    CLOSE,
    OPEN,
    REMOVE_TAG,
    Crew,
    Frame,
    Move,
    Order,
    Part,
    Player,
    rehearse,
)
from tests import networks
from tests.networks import customers

FEW, MORE = tuple(f"T-4/{number}" for number in (1, 2)), tuple(f"T-3/{number}" for number in (1, 2, 3))


def play(
    compiled: Compiled, *moves: tuple[str, str, str], crews: tuple[Crew, ...] = (), **stands: str
) -> list[Frame]:
    numbered = tuple(Move(str(number), *move) for number, move in enumerate(moves, 1))
    stood = {name.replace("_", "-"): phases for name, phases in stands.items()}
    return list(rehearse(Order((Part(compiled, numbered),), stood, crews)))


def test_who_goes_out_and_who_comes_back_is_told_in_the_frame_where_it_happens() -> None:
    frames = play(
        networks.radial_tap(), ("C-301", "B", OPEN), ("C-301", "B", CLOSE), ("F-4", "B", CLOSE), F_4="B"
    )
    assert [sorted(frame.out) for frame in frames] == [[*FEW], sorted([*MORE, *FEW]), [*FEW], []]
    # Whoever is out before the first move has not been seen in service.
    assert [frame.newly_out for frame in frames] == [FEW, MORE, (), ()]
    assert [frame.back for frame in frames] == [(), (), MORE, FEW]


def test_nothing_moves_where_a_step_only_looks_or_takes_a_tag_off() -> None:
    frames = play(networks.radial_tap(), ("F-4", "B", CHECK_OPEN), ("F-4", "B", REMOVE_TAG), F_4="B")
    assert [frame.open_phases for frame in frames] == [{"F-4": "B"}] * 3
    frames = play(networks.radial_tap(), ("F-4", "B", CHECK_OPEN), ("F-3", "B", REMOVE_TAG))
    assert [frame.open_phases for frame in frames] == [{}] * 3


def test_a_position_that_has_come_up_before_is_not_traced_again() -> None:
    """Nor is it another for a device that is named with no phase open."""
    player = Player()
    compiled = networks.radial_tap()
    moves = Move("1", "C-301", "B", OPEN), Move("2", "C-301", "B", CLOSE)
    order = Order((Part(compiled, moves),), {"F-4": "B"})
    first, opened, again = player.play(order)
    assert first.trace is again.trace
    assert first.trace is not opened.trace
    assert player.play(order)[1].trace is opened.trace
    other = Order((Part(networks.radial_tap(), moves),), {"F-4": "B"})
    assert player.play(other)[0].trace is not first.trace


def test_with_nothing_done_in_any_slot_the_order_stays_where_it_was() -> None:
    order = Order((Part(networks.radial_tap(), (Move("1", "C-301", "B", OPEN),)),), {})
    assert [frame.open_phases for frame in Player().play(order, [(), ()])] == [{}, {}]
    assert [frame.open_phases for frame in Player().play(order)] == [{}, {"C-301": "B"}]


def test_a_crew_is_there_from_its_first_frame_to_its_last_or_to_the_end() -> None:
    crews = (
        Crew("all the time", frozenset()),
        Crew("from the first move", frozenset(), first=1),
        Crew("in one frame", frozenset(), first=1, last=1),
        Crew("before any move", frozenset(), last=0),
    )
    frames = play(networks.radial_tap(), ("F-3", "B", OPEN), ("F-4", "B", OPEN), crews=crews)
    assert [[crew.name for crew in frame.crews] for frame in frames] == [
        ["all the time", "before any move"],
        ["all the time", "from the first move", "in one frame"],
        ["all the time", "from the first move"],
    ]


def test_whoever_stands_on_what_changes_is_named_with_the_phases_that_do() -> None:
    """Nobody in the first frame, none for a place that the network has not, and nobody on the other side."""
    nodes = {("P-1a", "A"), ("P-1a", "B"), ("P-1a", "C"), ("P-9", "A")}
    crews = Crew("on the line", frozenset(nodes)), Crew("at the source", frozenset({("P-1", "A")}))
    frames = play(
        networks.gang_switch(),
        ("G-1", "AC", OPEN),
        ("G-1", "B", OPEN),
        ("G-1", "B", OPEN),
        crews=crews,
    )
    assert [[(crew.name, phases) for crew, phases in frame.stood_on] for frame in frames] == [
        [],
        [("on the line", "AC")],
        [("on the line", "B")],
        [],
    ]


class TestOnPartOfThePhases:
    def of(self, compiled: Compiled, device: str, phases: str) -> tuple[str, ...]:
        return play(compiled, (device, phases, OPEN))[1].single_phased

    def test_a_three_phase_service_that_lost_some_of_them_is_named(self) -> None:
        compiled = networks.three_cutouts()
        # The four on T-2 have one phase, A: they are out, not on part of it.
        assert self.of(compiled, "C-330", "A") == ("T-340/1",)
        assert self.of(compiled, "C-330", "AB") == ("T-340/1",)
        assert self.of(compiled, "C-330", "ABC") == ()

    def test_of_a_bank_that_turns_phases_those_of_its_primary_count(self) -> None:
        compiled = open_delta(customers("T", 2))
        assert self.of(compiled, "C", "A") == ("T/1", "T/2")
        assert self.of(compiled, "C", "AB") == ()

    def test_of_a_bank_with_like_phases_those_that_the_service_has(self) -> None:
        compiled = grounded((Premises("one", "T", phases="B"), Premises("two", "T", phases="AB")))
        assert self.of(compiled, "C", "B") == ("two",)
        assert self.of(compiled, "C", "AB") == ()


def behind_cutouts(primary: str, secondary: str, connection: str, premises: tuple[Premises, ...]) -> Compiled:
    """
    *ST == main =[C]= tap (T) premises
    """
    return compile_network(
        Network(
            nodes=(Node("main", "ABC"), Node("tap", primary), Node("low", secondary)),
            devices=(Device("C", "main", "tap", primary, primary),),
            transformers=(Transformer("T", "tap", "low", primary, connection),),
            sources=(Source("ST", "main", "station", "ABC"),),
            premises=premises,
        )
    )


def open_delta(premises: tuple[Premises, ...]) -> Compiled:
    return behind_cutouts("AB", "ABC", "open_wye-open_delta", premises)


def grounded(premises: tuple[Premises, ...]) -> Compiled:
    return behind_cutouts("ABC", "ABC", "wye_grounded-wye_grounded", premises)


class TestWhatIsJoined:
    def test_what_stood_joined_before_the_first_move_is_told_in_the_first_frame_only(self) -> None:
        loop = "a loop is closed by C-208 and C-221 (phases A, B, C)"
        frames = play(
            networks.two_feed_section(),
            ("C-208", "ABC", OPEN),
            ("C-208", "ABC", OPEN),
            ("C-208", "ABC", CLOSE),
        )
        assert [frame.made.sentences for frame in frames] == [(loop,), (), (), (loop,)]

    def test_a_phase_at_a_time_each_phase_is_told_once(self) -> None:
        frames = play(networks.two_feed_section(), ("C-208", "A", CLOSE), ("C-208", "BC", CLOSE), C_208="ABC")
        assert [frame.made.sentences for frame in frames] == [
            (),
            ("a loop is closed by C-208 and C-221 (phase A)",),
            ("a loop is closed by C-208 and C-221 (phases B, C)",),
        ]


def test_positions_that_the_work_leaves_count_from_the_first_frame_of_its_part() -> None:
    compiled = networks.radial_tap()
    parts = (
        Part(compiled, (Move("1", "F-3", "B", OPEN),)),
        Part(compiled, (), {"F-4": "B", "F-3": "", "C-9": "B"}),
    )
    frames = rehearse(Order(parts, {"C-301": ""}))
    assert [frame.open_phases for frame in frames] == [{}, {"F-3": "B"}, {"F-4": "B"}]
    assert [(frame.number, frame.ends, [move.step for move in frame.done]) for frame in frames] == [
        (0, False, []),
        (1, True, ["1"]),
        (2, True, []),
    ]
    assert [frame.before for frame in frames] == [None, frames[0], frames[1]]
