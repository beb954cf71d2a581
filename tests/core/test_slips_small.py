"""Slips on small networks, each worked out by hand from its drawing."""

import json
from dataclasses import replace

from circuits.core.answers import Answer
from circuits.core.network import Compiled, Device, Network, Node, Source, compile_network
from circuits.core.rehearsing.rehearsal import CHECK_OPEN, CLOSE, OPEN, REMOVE_TAG, Crew, Move, Order, Part
from circuits.core.rehearsing.slips import Hit, Slip, slips
from tests import networks

NOTHING = Slip("left out", 1, "Step 1 left out", (), (), (), ())


def hit(crew: str, answer: Answer) -> Hit:
    return Hit(crew, answer, "")


def by_rank(*found: Slip) -> list[str]:
    return [slip.what for slip in sorted(found, key=lambda slip: slip.rank)]


class TestWhichSlipIsToldFirst:
    def test_the_worst_that_may_stand_on_anybody_comes_first_however_few_it_hits(self) -> None:
        energized = replace(NOTHING, what="energized", hits=(hit("41", Answer.ENERGIZED),))
        backfed = hit("41", Answer.BACKFED), hit("42", Answer.BACKFED)
        more = replace(NOTHING, what="backfed", hits=backfed, joined=("a loop",), out=("home",))
        assert by_rank(more, energized) == ["energized", "backfed"]

    def test_of_those_the_one_that_hits_more_crews(self) -> None:
        one = replace(NOTHING, what="one", hits=(hit("41", Answer.ENERGIZED),))
        two = replace(one, what="two", hits=(hit("41", Answer.ENERGIZED), hit("42", Answer.BACKFED)))
        three = replace(one, what="three", hits=(*two.hits, hit("43", Answer.BACKFED)))
        assert by_rank(one, two, three) == ["three", "two", "one"]

    def test_then_the_one_that_joins_more(self) -> None:
        one, two = (replace(NOTHING, what=str(count), joined=("a loop",) * count) for count in (1, 2))
        assert by_rank(NOTHING, one, two) == ["2", "1", "Step 1 left out"]

    def test_then_the_likelier_then_the_one_with_more_customers_out_then_the_earlier(self) -> None:
        many, few = (
            replace(NOTHING, what=what, out=("a", "b")[:count]) for what, count in (("2", 2), ("1", 1))
        )
        later = replace(few, what="later", at=2)
        swapped = replace(few, kind="swapped", what="swapped", out=("a", "b", "c"))
        assert by_rank(swapped, later, few, many) == ["2", "1", "later", "swapped"]


class TestCustomersOut:
    def test_one_or_more_in_words(self) -> None:
        assert [replace(NOTHING, out=out).sentence for out in (("a",), ("a", "b"))] == [
            "Step 1 left out: 1 customer is out that would not be.",
            "Step 1 left out: 2 customers are out that would not be.",
        ]

    def test_who_is_out_when_the_last_step_is_done_counts_and_who_is_out_in_between_does_not(self) -> None:
        """C-221 is closed to feed the five from the other end, then C-208 is opened: swapped, they are out
        only until the second of them is done."""
        moves = Move("1", "C-221", "ABC", CLOSE), Move("2", "C-208", "ABC", OPEN)
        found = slips(Order((Part(networks.two_feed_section(), moves),), {"C-221": "ABC"}))
        assert [slip.sentence for slip in found] == [
            "Step 1 left out: 5 customers are out that would not be.",
            "Step 1 done on phases A, C of C-221, B stuck: 3 customers are out that would not be.",
            "Step 1 done on phases B, C of C-221, A stuck: 2 customers are out that would not be.",
        ]


def line(*devices: tuple[str, str, str, str], stations: str = "a", phases: str = "A") -> Compiled:
    """Nodes of one letter with devices between: (name, ends, such as "ab", the phases closed)."""
    return compile_network(
        Network(
            nodes=tuple(Node(name, phases) for name in sorted({*"".join(ends for _, ends, *_ in devices)})),
            devices=tuple(
                Device(name, ends[0], ends[1], phases, closed, kind) for name, ends, closed, kind in devices
            ),
            sources=tuple(Source(f"ST-{node}", node, "station", phases) for node in stations),
        )
    )


def crew(name: str, node: str, first: int = 0, last: int | None = None, phases: str = "A") -> Crew:
    return Crew(name, frozenset((node, phase) for phase in phases), first, last)


def sentences(compiled: Compiled, parts: list[list[Move]], *crews: Crew, **stands: str) -> list[str]:
    opened = compiled.network.normally_open | {name.replace("_", "-"): has for name, has in stands.items()}
    order = Order(tuple(Part(compiled, tuple(moves)) for moves in parts), opened, crews)
    return [slip.sentence for slip in slips(order)]


class TestStuckOnAPhase:
    def test_a_step_on_two_phases_may_stick_on_either(self) -> None:
        moves = [Move("1", "G-1", "AB", OPEN)]
        assert sentences(networks.gang_switch(), [moves], crew("41", "P-1a", 1, phases="AB")) == [
            "Step 1 left out: 41 is hit, phases A, B at P-1 energized from ST.",
            "Step 1 done on phase A of G-1, B stuck: 41 is hit, phase B at P-1 energized from ST.",
            "Step 1 done on phase B of G-1, A stuck: 41 is hit, phase A at P-1 energized from ST.",
        ]

    def test_a_step_on_one_phase_is_either_done_or_left_out(self) -> None:
        assert sentences(networks.three_cutouts(), [[Move("1", "C-330", "B", OPEN)]]) == []


def test_a_device_opened_for_one_that_was_to_be_checked_open_which_is_closed_unseen() -> None:
    """
    *ST-a -[C-280]- b    *ST-a -<C-208>- w
    """
    compiled = line(("C-280", "ab", "A", ""), ("C-208", "aw", "", "switch"))
    found = sentences(compiled, [[Move("1", "C-208", "A", CHECK_OPEN)]], crew("41", "w"))
    hit = "41 is hit, phase A at w energized from ST-a."
    assert found == [
        f"C-280 opened for C-208 in step 1, which is closed unseen: {hit}",
        f"Step 1 closes C-208 instead of checking it open: {hit}",
    ]


def test_a_device_closed_for_another() -> None:
    """
    *ST-a -<C-280>- w    *ST-a -<C-208>- b
    """
    compiled = line(("C-280", "aw", "", ""), ("C-208", "ab", "", ""))
    assert sentences(compiled, [[Move("1", "C-208", "A", CLOSE)]], crew("41", "w")) == [
        "C-280 closed for C-208 in step 1: 41 is hit, phase A at w energized from ST-a."
    ]


def test_steps_are_swapped_within_a_half_only_and_the_third_half_is_one_too() -> None:
    """
    *ST-a -[C-1]- b -<C-2>- w
    """
    compiled = line(("C-1", "ab", "A", ""), ("C-2", "bw", "", ""))
    last = [Move("3", "C-1", "A", OPEN), Move("4", "C-2", "A", CLOSE)]
    halves = [[Move("1", "C-2", "A", REMOVE_TAG)], [Move("2", "C-2", "A", REMOVE_TAG)], last]
    hit = "41 is hit, phase A at w energized from ST-a."
    assert sentences(compiled, halves, crew("41", "w")) == [
        f"Step 3 left out: {hit}",
        f"C-1 closed at the end, as it once stood: {hit}",
        f"Steps 3 and 4 swapped: {hit}",
    ]


class TestClosedAsItOnceStood:
    """
    *ST-a -[C-1]- w, where the work sets N-5 into a new way from a to w, and leaves it open
    """

    before = line(("C-1", "aw", "A", ""))
    left = line(("C-1", "aw", "A", ""), ("N-5", "aw", "", ""))
    hit = "41 is hit, phase A at w energized from ST-a."
    opens = Move("1", "C-1", "A", OPEN)

    def of(self, *parts: Part, **stood: str) -> list[str]:
        opened = {name.replace("_", "-"): phases for name, phases in stood.items()}
        return [slip.sentence for slip in slips(Order(parts, opened, (crew("41", "w", 1),)))]

    def test_what_the_work_has_set_never_stood_otherwise(self) -> None:
        assert self.of(Part(self.before, (self.opens,)), Part(self.left, (), {"N-5": "A"})) == [
            f"Step 1 left out: {self.hit}",
            f"C-1 closed at the end, as it once stood: {self.hit}",
        ]

    def test_what_the_work_itself_leaves_open_once_stood_closed(self) -> None:
        assert self.of(Part(self.left, (self.opens,)), Part(self.left, (), {"N-5": "A"})) == [
            f"Step 1 left out: {self.hit}",
            f"N-5 opened for C-1 in step 1: {self.hit}",
            f"C-1 closed at the end, as it once stood: {self.hit}",
            f"N-5 closed at the end, as it once stood: {self.hit}",
        ]

    def test_what_stood_open_before_the_first_step_did_not_stand_closed(self) -> None:
        assert self.of(Part(self.left, ()), Part(self.left, (), {"C-1": "A"}), C_1="A", N_5="A") == []

    def test_an_order_of_one_half_has_no_old_half(self) -> None:
        assert self.of(Part(self.before, (self.opens,))) == [f"Step 1 left out: {self.hit}"]

    def test_what_the_last_step_opens_once_stood_closed_too(self) -> None:
        assert self.of(Part(self.before, ()), Part(self.before, (self.opens,))) == [
            f"Step 1 left out: {self.hit}",
            f"C-1 closed at the end, as it once stood: {self.hit}",
        ]

    def test_it_hits_those_who_are_still_there_at_the_end(self) -> None:
        order = Order(
            (Part(self.before, (self.opens,)), Part(self.before, ())),
            {},
            (crew("41", "w", 1), crew("42", "w", 1, 1)),
        )
        (_, closed) = slips(order)
        assert closed.sentence == f"C-1 closed at the end, as it once stood: {self.hit}"
        assert closed.at == 2


def test_what_an_earlier_step_has_opened_is_not_opened_for_another() -> None:
    """N-5 and C-1 are of one kind and near, X-9 is of another.

    *ST-a =[C-1], [N-5]= w    a -[X-9]- x
    """
    compiled = line(("C-1", "aw", "A", ""), ("N-5", "aw", "A", ""), ("X-9", "ax", "A", "switch"))
    moves = [Move(str(number), device, "A", OPEN) for number, device in enumerate(("X-9", "N-5", "C-1"), 1)]
    hit = "41 is hit, phase A at w energized from ST-a."
    assert sentences(compiled, [moves], crew("41", "w", 3)) == [
        f"Step 2 left out: {hit}",
        f"Step 3 left out: {hit}",
        f"C-1 opened for N-5 in step 2: {hit}",
    ]


def test_a_close_too_early_is_one_slip_for_all_who_go_at_that_moment() -> None:
    """
    *ST-a -[C-1]- w
    """
    crews = crew("41", "w", 1, 2), crew("42", "w", 1, 2), crew("43", "w", 1, 1)
    halves = [[Move("1", "C-1", "A", OPEN)], [Move("2", "C-1", "A", CLOSE)]]
    hit = "is hit, phase A at w energized from ST-a"
    three = f"41 {hit}; 42 {hit}; 43 {hit}."
    assert sentences(line(("C-1", "aw", "A", "")), halves, *crews) == [
        f"Step 1 left out: {three}",
        f"Step 2 done before 43 is released: {three}",
        f"Step 2 done before 41 and 42 is released: 41 {hit}; 42 {hit}.",
    ]


def test_a_close_is_not_too_early_for_those_who_go_later() -> None:
    """As ordered C-1 is closed and opened again, and 41 goes after both.

    *ST-a -<C-1>- w
    """
    moves = [Move("1", "C-1", "A", CLOSE), Move("2", "C-1", "A", OPEN)]
    assert sentences(line(("C-1", "aw", "", "")), [moves], crew("41", "w", 0, 2)) == [
        "Step 2 left out: 41 is hit, phase A at w energized from ST-a.",
        "Steps 1 and 2 swapped: 41 is hit, phase A at w energized from ST-a.",
    ]


def test_what_only_opens_more_joins_nothing_though_a_loop_has_fewer_devices_then() -> None:
    """With the close of N-8 left out the stations are joined as they were, by one tie less than ordered.

    *ST-a -[B-1]- b =[N-7], <N-8>= c -[B-2]- d*
    """
    ends = {"B-1": "ab", "N-7": "bc", "N-8": "bc", "B-2": "cd"}
    compiled = line(*((name, at, "A" * (name != "N-8"), name) for name, at in ends.items()), stations="ad")
    assert sentences(compiled, [[Move("1", "N-8", "A", CLOSE)]]) == []


def test_an_order_read_back_from_a_file_is_searched_as_it_was_when_written() -> None:
    compiled = line(("C-280", "ab", "A", ""), ("C-208", "aw", "", ""), ("C-281", "ax", "A", ""))
    moves = [
        Move("1", "C-208", "A", CHECK_OPEN),
        Move("2", "C-280", "A", OPEN),
        Move("3", "C-280", "A", CLOSE),
    ]
    read = [Move(*json.loads(json.dumps([one.step, one.device, one.phases, one.operation]))) for one in moves]
    crews = crew("41", "w"), crew("42", "b", 2, 2)
    found = sentences(compiled, [read], *crews)
    assert found == sentences(compiled, [moves], *crews)
    hit = "42 is hit, phase A at b energized from ST-a."
    assert f"C-281 opened for C-280 in step 2: {hit}" in found
