"""Scenarios of a network that is changed by the work: given, when, then. The numbers are those of the list
that this board was designed by; what each asks for is said here. What else changes is in `test_as_left`.
"""

from circuits.models import Premises
from clearances.models import ChangeSet, Clearance, LogEntry
from tests.cast import Cast, done

from .beside import stands
from .leaving import built, plan, planned
from .looking import look


def words_of(verb: str) -> str:
    return LogEntry.objects.filter(verb=verb).latest("number").words


def one(premises: str) -> Premises:
    """A customer of a transformer."""
    return Premises.objects.filter(transformer=premises).order_by("pk")[0]


class TestS22ATransformerMovedToAnotherPhase:
    """T-217, 25 kVA, goes from phase B to phase C."""

    def test_the_circuit_s_balance_is_told_when_it_is_planned_and_when_it_is_built(self, cast: Cast) -> None:
        row = planned(cast, cast.job("asked"))
        # Added up by hand from the demo's transformers.csv.
        said = (
            " Transformers of feeder 12: A 125, B 190, C 152.5 kVA, with it A 125, B 165, C 177.5 kVA. Its "
            "phases are 65 kVA apart, with it 52.5."
        )
        assert said in words_of("plan_change")
        built(cast, row)
        assert said in words_of("confirm_change")

    def test_what_makes_it_worse_is_told_as_such(self, cast: Cast) -> None:
        """T-220's 50 kVA from C to B."""
        done(plan(cast, cast.job("asked"), "move_transformer", transformer="T-220", phases="B"))
        assert (
            "with it A 125, B 240, C 102.5 kVA. Its phases are 65 kVA apart, with it 137.5: LESS BALANCED "
            "than before."
        ) in words_of("plan_change")

    def test_a_change_that_moves_no_transformer_says_nothing_of_it(self, cast: Cast) -> None:
        done(plan(cast, cast.job("asked"), "set_switch", line="L-214-215", device="N-15"))
        assert "kVA" not in words_of("plan_change")


class TestS23ATransformerMovedBehindAnotherCutout:
    """T-217 goes to P-213, which is behind C-208 alone once N-15 stands open."""

    def moved(self, cast: Cast, clearance: Clearance) -> ChangeSet:
        done(plan(cast, clearance, "set_switch", line="L-214-215", device="N-15"))
        done(plan(cast, clearance, "normal_position", device="S-217", position="open"))
        done(plan(cast, clearance, "move_transformer", transformer="T-217", phases="B", at_node="P-213"))
        return ChangeSet.objects.get()

    def test_what_hangs_behind_each_link_is_put_beside_it(self, cast: Cast) -> None:
        """By hand: T-210 25 on A, T-212 37.5 and T-217 25 on B, T-213 15 on C."""
        built(cast, self.moved(cast, cast.job("asked")))
        said = words_of("confirm_change")
        assert "Behind C-208, link 40K: A 25, B 62.5, C 15 kVA. Compare with the link." in said
        assert "Behind F-217, link 3K: A 0, B 25, C 0 kVA. Compare with the link." in said

    def test_another_link_is_put_beside_what_hangs_behind_it(self, cast: Cast) -> None:
        done(plan(cast, cast.job("asked"), "change_link", device="C-233", link="25K"))
        assert "Behind C-233, link 25K: A 0, B " in words_of("plan_change")

    def test_customer_service_has_it_in_the_same_minute(self, cast: Cast) -> None:
        """Nobody retypes anything: an open C-208 takes T-217's customers out now, and the caller hears it."""
        hers = one("T-217")
        assert self.standing(cast, hers) == "on"
        row = self.moved(cast, cast.job("asked"))
        built(cast, row)
        stands(cast, "S-217", "open", "B")  # the tie, normally open from now on
        stands(cast, "C-208", "open")
        assert self.standing(cast, hers) == "out"
        assert self.standing(cast, one("T-220")) == "on"

    def standing(self, cast: Cast, home: Premises) -> str:
        return str(look(cast.mira, f"/service/?premises={home.pk}").context["answer"]["standing"])
