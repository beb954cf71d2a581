"""Slips on small networks, each worked out by hand from its drawing."""

from dataclasses import replace

from circuits.core.answers import Answer
from circuits.core.rehearsing.rehearsal import CLOSE, OPEN, Move, Order, Part
from circuits.core.rehearsing.slips import Hit, Slip, slips
from tests import networks

NOTHING = Slip("left out", 1, "Step 1 left out", (), (), ())


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
