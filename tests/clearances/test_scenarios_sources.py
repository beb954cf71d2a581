"""Scenarios of the source that was not on the list: given, when, then. The numbers are those of the list that
this board was designed by; what each asks for is said here. The traces: `tests/core/test_scenarios`.
"""

from clearances.models import Clearance, Interruption
from clearances.services import giving, orders, planning
from clearances.services.verb import Outcome
from tests.cast import POINTS, Cast, done

from .looking import look
from .said import codes, leans_on, texts


def give(cast: Cast, clearance: Clearance) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=version)


def check_without(cast: Cast, *left_out: str) -> tuple[Clearance, Outcome]:
    """The demo's job planned without one of its points, and the second person's check of that."""
    clearance = cast.job("asked")
    return clearance, check_with(cast, clearance, *(one for one in POINTS if one not in left_out))


def check_with(cast: Cast, clearance: Clearance, *devices: str) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    who = cast.who(cast.dana)
    done(planning.choose_points(who, clearance=clearance.pk, version=version, devices=list(devices)))
    cast.write(Clearance.objects.get(pk=clearance.pk))
    version = Clearance.objects.get(pk=clearance.pk).version
    return orders.check_order(cast.who(cast.ines), clearance=clearance.pk, version=version)


class TestS13BackfeedAcrossPhasesThroughABank:
    """C-208 is open, of C-221 only A; beyond hangs T-218, grounded wye to delta, fed on B and C (8:41)."""

    def test_phase_a_beyond_is_never_called_out_and_isolation_needs_the_other_legs(self, cast: Cast) -> None:
        clearance = cast.job("told")
        first, second, *_ = cast.steps(clearance, "isolate")
        cast.give_step(clearance, first)
        cast.report_step(first)
        cast.give_step(clearance, second)
        asked = look(cast.dana, "/desk/devices/C-221/?operation=open&phases=A").text
        assert "may be energized from phases B, C through bank T-218: voltage not known" in asked
        cast.report_step(second, "A", tag=False)

        said = look(cast.dana, f"/desk/clearances/{clearance.pk}/").text
        assert "P-215 to P-221: A: possibly backfed, voltage not known; B, C: energized" in said
        caller = Interruption.objects.filter(premises__transformer="T-210")[0].premises_id
        answer = look(cast.mira, f"/service/?premises={caller}").context["answer"]
        assert answer["standing"] == "unknown"
        refused = give(cast, clearance)
        assert "source_not_blocked" in codes(refused)
        assert "C-221 is reported open 1 of 3, inoperable 1 of 3, tagged 0 of 3." in texts(refused)

        # With every leg of it open nothing is left.
        cast.report_step(second, "BC")
        for step in cast.steps(clearance, "isolate")[2:]:
            cast.give_step(clearance, step)
            cast.report_step(step)
        done(give(cast, clearance))

    def test_a_plan_for_phase_a_alone_names_the_bank(self, cast: Cast) -> None:
        """The roof inverter hangs on B, and B comes back on A through the bank."""
        clearance = cast.asked(phases="A")
        said = check_with(cast, clearance, "C-208", "C-221")
        (text,) = [text for text in texts(said) if "INV-212" in text]
        assert text.startswith("With every point of this order open and tagged, phase A is still fed: ")
        assert "bank T-218 from phase B" in text


class TestS15ACustomersGenerator:
    """At T-219 stands a generator of which nobody knows how its transfer switch is made."""

    def test_it_is_a_possible_source_until_something_is_decided(self, cast: Cast) -> None:
        clearance, said = check_without(cast, "D-219")
        assert set(codes(said)) == {"plan_leaves_source"}
        over_its_cutout, over_the_tie = texts(said)
        assert "standby GEN-219" in over_its_cutout
        assert "S-217" in over_the_tie
        assert leans_on(said) == {"29 CFR 1910.269(m)(3)(ii) (seen)"}
        assert "GEN-219" in look(cast.dana, f"/desk/clearances/{clearance.pk}/").text
        # The one way past: its disconnect is a point. The other: the holder agrees that grounds cover it.
        done(check_with(cast, clearance, *POINTS))

    def test_or_the_holder_agrees_to_what_was_decided_and_has_it_on_the_sheet(self, cast: Cast) -> None:
        clearance, _ = check_without(cast, "D-219")
        decision = "grounds on both sides cover it"
        done(
            planning.agree_on_source(
                cast.who(cast.ana), clearance=clearance.pk, source="GEN-219", decision=decision
            )
        )
        version = Clearance.objects.get(pk=clearance.pk).version
        done(orders.check_order(cast.who(cast.ines), clearance=clearance.pk, version=version))
        assert decision in look(cast.ana, f"/field/clearances/{clearance.pk}/").text


class TestS16SolarWithNoPointOpen:
    """T-212's roof inverter: that it trips by itself is protection, not a point."""

    def test_the_plan_is_refused_until_its_disconnect_is_a_point(self, cast: Cast) -> None:
        clearance, said = check_without(cast, "D-212")
        assert codes(said) == ["plan_leaves_source"]
        assert "inverter INV-212" in texts(said)[0]
        done(check_with(cast, clearance, *POINTS))
