"""Scenarios of putting power back: given, when, then. The numbers are those of the list that this board was
designed by; what each asks for is said here.
"""

import datetime
from typing import Any, ClassVar

from django.utils import timezone

from clearances import early, flags
from clearances.models import Clearance, Interruption, Step
from clearances.services import giving, on_the_line, switching
from clearances.services.verb import Outcome
from notifications.models import Notice
from tests.cast import Cast, done

from .beside import Elm, stands
from .looking import look
from .plays import Tap
from .said import codes, texts


def order_step(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=step.order_id).version
    said: dict[str, Any] = {"version": version, "given_to": "Sal Moreno", "repeated_back": True}
    return switching.give_step(cast.who(cast.dana), step=step.pk, **said)


def leave_out(cast: Cast, step: Step) -> None:
    version = Clearance.objects.get(pk=step.order_id).version
    done(switching.leave_step_out(cast.who(cast.dana), step=step.pk, version=version, why="Bo holds it"))


def flagged(code: str) -> list[str]:
    return [one.flag.text for one in flags.current() if one.flag.code == code]


class TestS08WorkFinishesEarly:
    """Ana releases hours before the end that the customers were told."""

    def test_it_is_restored_and_whoever_was_promised_hours_is_named(self, cast: Cast) -> None:
        clearance = cast.job("released")
        until = f"{timezone.localtime(clearance.promised_end):%H:%M}"
        machines = "inverter INV-212 at 14 Quarry Lane; standby generator GEN-219 at 41 Quarry Lane"
        told = (
            f"Order {clearance.pk} puts power back earlier than told: 62 customers were told until {until}. "
            f"Before the first close reach whoever has a machine that may run until then: {machines}."
        )
        assert flagged("back_early") == [told]
        assert f"Earlier than told. {told}" in look(cast.dana, "/desk/").text
        first = cast.steps(clearance, "restore")[0]
        assert told in look(cast.dana, f"/do/give_step/?step={first.pk}").text
        sheet = look(cast.ana, f"/field/clearances/{clearance.pk}/").text
        assert f"Standby generator GEN-219 at 41 Quarry Lane, told off until {until}" in sheet

        done(order_step(cast, first))  # a warning refuses nothing
        cast.report_step(first)
        cast.restore(clearance)
        assert not Interruption.objects.filter(on_at=None).exists()
        assert Notice.objects.filter(fact__endswith=":back").exists()
        assert flagged("back_early") == []

    def test_on_time_nothing_is_said(self, cast: Cast) -> None:
        clearance = cast.job("released")
        soon = timezone.now() + datetime.timedelta(minutes=14)
        clearance.affected.update(back_by=soon)
        assert early.of(clearance) is None
        clearance.affected.update(back_by=None)  # nobody was told an hour
        assert early.of(clearance) is None

    def test_who_waits_for_another_crew_is_not_early(self, tap: Tap) -> None:
        """Both hold C-233: Ana's release gives nobody power back, Bo's does."""
        ana, bo = tap.job("told"), tap.bring(tap.asked(holder=tap.bo), "told")
        for each in (ana, bo):
            tap.bring(each, "accepted", "told")
        ana.refresh_from_db()
        tap.release(ana)
        ana.refresh_from_db()
        assert early.of(ana) is None
        tap.release(Clearance.objects.get(pk=bo.pk))
        found = early.of(ana)
        assert found
        assert found.told == ((timezone.localtime(ana.promised_end), ana.affected.count()),)

    def test_before_the_release_nothing_is_said(self, cast: Cast) -> None:
        assert early.of(cast.job("working")) is None


class Farther(Cast):
    """Bo's limits run from the main into Ana's section; one of his points is hers, the other is not."""

    points: ClassVar[tuple[str, ...]] = ("J-207", "C-221", "D-219", "D-212")


class TestS11LimitsOverlapWithDifferentPoints:
    """Ana has P-213 to P-218 between C-208 and C-221, Bo has P-207 to P-214 between J-207 and C-221."""

    def both(self, cast: Cast) -> tuple[Clearance, Clearance]:
        ana = cast.job("accepted")
        farther = Farther.present()
        bo = farther.asked(holder=cast.bo, from_pole="P-207", to_pole="P-214", work="Replace the conductor")
        return ana, farther.bring(bo, "accepted")

    def test_both_foremen_are_told_of_each_other(self, cast: Cast) -> None:
        ana, bo = self.both(cast)
        (text,) = flagged("limits_overlap")
        assert text == (
            f"The limits of {ana.pk} (Ana Duarte, 555-0117) and {bo.pk} (Bo Lindqvist, 555-0142) overlap at "
            "P-213, P-214: the grounds and the release of both are needed."
        )
        assert text in look(cast.dana, "/desk/").text
        for person, own, name, phone in (
            (cast.ana, ana, "Bo Lindqvist", "555-0142"),
            (cast.bo, bo, "Ana Duarte", "555-0117"),
        ):
            sheet = look(person, f"/field/clearances/{own.pk}/").text
            assert name in sheet
            assert phone in sheet

    def test_neither_end_closes_before_the_grounds_and_the_release_of_both(self, cast: Cast) -> None:
        ana, bo = self.both(cast)
        set_on: dict[str, Any] = {"clearance": bo.pk, "label": "G9", "pole": "P-210", "phases": "ABC"}
        done(on_the_line.ground_on(cast.who(cast.bo), done_at=timezone.now(), **set_on))
        cast.release(Clearance.objects.get(pk=ana.pk))
        for step in cast.steps(ana, "restore"):
            if step.operation == Step.Operation.REMOVE_TAG:
                cast.give_step(ana, step)
                cast.report_step(step)
                continue
            if step.device_id == "C-208":  # still nothing reaches it, but one wrong report would be enough
                (text,) = texts(order_step(cast, step))
                assert text.startswith(
                    f"Bo Lindqvist, 555-0142 (clearance {bo.pk}) has not said yes to closing"
                )
            if step.device_id == "C-221":
                tag, limits, ground = texts(order_step(cast, step))
                assert f"tag {bo.pk}-2 is on it (clearance {bo.pk}, Bo Lindqvist, 555-0142" in tag
                assert "would energize primary P-207 to P-214" in limits
                assert "would energize ground set G9 at P-210" in ground
            leave_out(cast, step)
        assert codes(
            giving.release_clearance(
                cast.who(cast.bo), clearance=bo.pk, version=None, told_everyone=True, all_off=True
            )
        ) == ["ground_on"]


class TestS12AnotherFeedCrossesAnotherJob:
    """N-7 would bring feeder 12 to the end of Elm Street over the span that Bo works on. There is no planner
    of such a feed on the board; what would close the tie is told, refused or flagged."""

    def test_whoever_looks_at_the_tie_is_told_whom_it_would_hit(self, cast: Cast) -> None:
        elm = Elm.present()
        bo = elm.bring(elm.asked(holder=cast.bo), "accepted")
        tie = "/desk/devices/N-7/?operation=close&phases=A&phases=B&phases=C"
        tag, limits = look(cast.dana, tie).context["question"]["hits"]
        assert tag == f"Bo Lindqvist, 555-0142: tag {bo.pk}-2 is on it."
        assert limits == (
            f"Bo Lindqvist, 555-0142: primary P-282 to P-283, phases A, B, C (clearance {bo.pk}, recall time "
            "20 min)."
        )
        # In another hour, with his people off and his clearance released, it hits nobody; then his tag goes.
        elm.release(Clearance.objects.get(pk=bo.pk))
        assert look(cast.dana, tie).context["question"]["hits"] == [tag]
        elm.restore(Clearance.objects.get(pk=bo.pk))
        assert look(cast.dana, tie).context["question"]["hits"] == []

    def test_the_desk_is_told_in_whose_hours_the_tie_stays_open(self, cast: Cast) -> None:
        """Ana's job at the other side of the tie has N-7 among its points in the same hours."""
        elm = Elm.present()
        bo = elm.bring(elm.asked(holder=cast.bo), "checked")
        far = elm.asked(holder=cast.ana, from_pole="P-286", to_pole="P-286", work="Change the insulators")
        far = elm.bring(far, "checked")
        (text,) = flagged("point_shared")
        end = f"{timezone.localtime(bo.promised_end):%d %b %H:%M}"
        assert text.endswith(f": it stays open until both are released, {end} as promised.")
        assert text.startswith("N-7, R-31 is a point of both ")
        assert text in look(cast.dana, "/desk/").text

    def test_that_somebody_closes_it_is_stored_and_told_at_once(self, cast: Cast) -> None:
        elm = Elm.present()
        bo = elm.bring(elm.asked(holder=cast.bo), "accepted")
        stands(cast, "N-7", "closed")
        station, *machines = flagged("limits_fed")
        assert station.startswith(f"Under clearance {bo.pk} (Bo Lindqvist) phases A, B, C are fed: ")
        assert all("> N-7 >" in text for text in (station, *machines))
        assert all("standby GEN-219" in text for text in machines)
