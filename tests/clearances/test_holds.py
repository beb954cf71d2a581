"""A hot-line hold and the recloser that another clearance needs open; a recloser that opens under a hold; a
test close that is wanted while people work beyond (practice: the scenarios of hold and recloser, and of the
emergency during planned work)."""

import datetime
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.network import Device, Network, Node, Source, Transformer, compile_network
from clearances import at_device, closing, flags, protections
from clearances.models import Clearance, HoldReport, HotLineHold, LogEntry, Step
from clearances.services import VERBS, holds, reporting, switching
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .beside import RECLOSER, Elm, a_hold, answer, ask_for_hold, give_back, make_ready, say, stands
from .plays import Tap
from .said import codes, leans_on, texts
from .sql import GIVE_STEP, breaks, refused, typed

GIVE_HOLD = (
    "UPDATE clearances_hotlinehold SET state = 'given', given_at = now(), given_by_id = %s WHERE id = %s"
)


@pytest.fixture
def elm(cast: Cast) -> Elm:
    return Elm.present()


def step_at(cast: Cast, clearance: Clearance, half: str, device: str, operation: str) -> Step:
    return next(
        one for one in cast.steps(clearance, half) if one.device_id == device and one.operation == operation
    )


def give(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = Clearance.objects.values_list("version", flat=True).get(pk=clearance.pk)
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


class TestFromAskingToGivingBack:
    def test_it_is_given_when_reclosing_is_off_and_the_tag_hangs(self, cast: Cast) -> None:
        hold = a_hold(cast, "asked")
        assert (hold.number, hold.place_words) == (f"HL-{hold.pk}", "P-278 to P-279, phases A, B, C")
        assert codes(holds.give_hold(cast.who(cast.dana), hold=hold.pk)) == [
            "reclosing_not_off",
            "no_hold_tag",
        ]
        say(cast, hold, "reclose_off")
        assert codes(holds.give_hold(cast.who(cast.dana), hold=hold.pk)) == ["no_hold_tag"]
        say(cast, hold, "tag_hung")
        entry = done(holds.give_hold(cast.who(cast.dana), hold=hold.pk)).entry
        assert entry.words == (
            f"Dana Reyes gives hot-line hold {hold.number} to Bo Lindqvist: reclosing off at R-31, hold tag "
            f"{hold.number} hung. Work energized at P-278 to P-279, phases A, B, C."
        )

    def test_no_hold_while_the_line_is_fed_another_way_too(self, cast: Cast) -> None:
        """With the tie N-7 closed B-12 would feed, and close again on, what R-31 has let go."""
        hold = a_hold(cast, "given")
        stands(cast, "N-7", "closed")
        accept: dict[str, Any] = {"hold": hold.pk, "read_back": "R-31, P-278 to P-279"}
        refused = holds.accept_hold(cast.who(cast.bo), **accept)
        assert codes(refused) == ["fed_another_way"]
        assert texts(refused)[0].startswith(
            "The line at P-278 to P-279, phases A, B, C is fed another way than over R-31: feeder 12 > "
        )
        another = a_hold(cast, "asked")
        make_ready(cast, another)
        assert codes(holds.give_hold(cast.who(cast.dana), hold=another.pk)) == ["fed_another_way"]
        (flag,) = [one.flag for one in flags.current() if one.flag.code == "hold_fed_another_way"]
        assert flag.text.startswith("P-278 to P-279, phases A, B, C is also fed another way than over R-31: ")
        assert flag.text.endswith(
            f"Call {cast.bo}, {cast.bo.phone}, who has hot-line hold {hold.number} there."
        )
        stands(cast, "N-7", "open")
        assert not [one for one in flags.current() if one.flag.code == "hold_fed_another_way"]
        done(holds.accept_hold(cast.who(cast.bo), **accept))

    def test_a_line_that_two_devices_feed_takes_a_hold_at_each(self, cast: Cast) -> None:
        stands(cast, "N-7", "closed")
        here, there = a_hold(cast, "asked"), a_hold(cast, "asked", device="B-12")
        make_ready(cast, here)
        assert codes(holds.give_hold(cast.who(cast.dana), hold=here.pk)) == ["fed_another_way"]
        make_ready(cast, there)
        for hold in (here, there):
            done(holds.give_hold(cast.who(cast.dana), hold=hold.pk))
        say(cast, there, "reclose_on")
        accept: dict[str, Any] = {"hold": here.pk, "read_back": "R-31, P-278 to P-279"}
        assert codes(holds.accept_hold(cast.who(cast.bo), **accept)) == ["fed_another_way"]

    @pytest.mark.parametrize(
        ("stands_open", "way"),
        [({"R-2": "A"}, ""), ({}, "station west > R-2 (phase A)")],
        ids=["bank", "device"],
    )
    def test_what_only_comes_over_a_bank_is_no_way_that_closes_again(
        self, cast: Cast, monkeypatch: pytest.MonkeyPatch, stands_open: dict[str, str], way: str
    ) -> None:
        small = compile_network(
            Network(
                nodes=(Node("main", "AB"), Node("tap", "AB"), Node("low", "A")),
                devices=(
                    Device("R-1", "main", "tap", "A", closed="A"),
                    Device("R-2", "main", "tap", "A", closed="A"),
                    Device("C-2", "main", "tap", "B", closed="B"),
                ),
                transformers=(Transformer("T-1", "tap", "low", "AB", "phase_to_phase"),),
                sources=(Source("west", "main", "station", "AB"),),
            )
        )
        monkeypatch.setattr(snapshot, "compiled", lambda: small)
        hold = HotLineHold(device_id="R-1", holder=cast.bo, nodes=["tap"], phases="A")
        assert [found for _, found in protections.fed_too([hold], stands_open)] == [way]

    def test_its_holder_accepts_it_in_his_own_words_and_gives_it_back(self, cast: Cast) -> None:
        hold = a_hold(cast, "given")
        accept: dict[str, Any] = {"hold": hold.pk, "read_back": "R-31, P-278 to P-279"}
        assert codes(holds.accept_hold(cast.who(cast.ana), **accept)) == ["not_the_holder"]
        assert codes(holds.accept_hold(cast.who(cast.bo), hold=hold.pk, read_back="")) == ["no_read_back"]
        done(holds.accept_hold(cast.who(cast.dana, cast.bo, "radio"), **accept))
        back: dict[str, Any] = {"hold": hold.pk, "told_everyone": True}
        assert codes(holds.give_back_hold(cast.who(cast.ana), **back)) == ["not_the_holder"]
        assert codes(holds.give_back_hold(cast.who(cast.dana), **back)) == ["not_the_holder"]
        done(holds.give_back_hold(cast.who(cast.bo), **back))
        hold.refresh_from_db()
        assert (hold.state, hold.given_back_by) == ("given_back", cast.bo)
        assert codes(holds.give_back_hold(cast.who(cast.bo), **back)) == ["not_accepted"]

    def test_only_a_qualified_foreman_asks_at_a_device_that_would_reclose_for_him(self, cast: Cast) -> None:
        assert codes(ask_for_hold(cast, cast.tom)) == ["holder_not_qualified"]
        assert texts(ask_for_hold(cast, device="C-280", from_pole="P-291", to_pole="P-293")) == [
            "C-280 closes neither by itself nor from afar: there is no reclosing to block."
        ]
        assert codes(ask_for_hold(cast, device="B-12")) == ["not_on_the_way"]
        assert codes(ask_for_hold(cast, device="R-99")) == ["unknown_device"]
        assert codes(ask_for_hold(cast, from_pole="P-9999")) == ["limits"]

    def test_not_accepted_it_is_withdrawn_and_accepted_it_is_not(self, cast: Cast) -> None:
        assert a_hold(cast, "withdrawn").state == "withdrawn"
        hold = a_hold(cast, "accepted")
        withdrawn = holds.withdraw_hold(cast.who(cast.dana), hold=hold.pk, why="rain")
        assert codes(withdrawn) == ["not_withdrawn"]

    def test_what_is_seen_at_the_device_is_always_stored(self, cast: Cast) -> None:
        """Reclosing found on, or the tag gone, while the crew is out: stored, and marked."""
        hold = a_hold(cast)
        for said in ("reclose_on", "tag_off"):
            entry = done(
                holds.report_hold(cast.who(cast.sal), hold=hold.pk, said=said, done_at=timezone.now())
            ).entry
            assert entry.irregular == f"Hot-line hold {hold.number} is accepted."
        give_back(cast, hold)
        say(cast, hold, "reclose_on")
        assert hold.reports.latest("pk").irregular == ""
        say(cast, hold, "reclose_off")
        assert hold.reports.latest("pk").irregular == f"Hot-line hold {hold.number} is over."


class TestS38AnotherClearanceNeedsTheRecloserOpen:
    """Bo works energized beyond R-31; Ana's clearance wants it open."""

    def test_it_is_not_ordered_open_before_the_holder_has_answered(self, elm: Elm) -> None:
        job = elm.job("told")
        hold = a_hold(elm)
        step = step_at(elm, job, "isolate", RECLOSER, "open")
        said = give(elm, job, step)
        (text,) = texts(said)
        assert text == (
            "R-31 can't be ordered open: beyond it Bo Lindqvist, 555-0142, works energized under hot-line "
            f"hold {hold.number} and has not said lately whether they stand down or stay."
        )
        assert leans_on(said) == {"hot-line hold (common practice)"}
        answer(elm, hold, "stays")
        done(give(elm, job, step))

    def test_an_opening_farther_up_that_takes_his_supply_asks_him_too(self, cast: Cast) -> None:
        """His line hangs on the breaker as much as on the recloser."""
        hold = a_hold(cast)
        for device, asked in (("B-14", [hold.number]), ("C-280", []), ("B-12", [])):
            found = protections.at_device(device, opening="ABC").holds
            assert [one.number for one in found] == asked, device
        assert protections.at_device("B-14").holds == ()

    def test_an_answer_is_a_live_one(self, elm: Elm) -> None:
        job = elm.job("told")
        hold = a_hold(elm)
        answer(elm, hold, "stands_down")
        old = timezone.now() - datetime.timedelta(minutes=settings.HOLD_ANSWER_MINUTES, seconds=1)
        HoldReport.objects.create(hold=hold, said="stays", done_at=old, entered_at=old, said_by="Bo")
        step = step_at(elm, job, "isolate", RECLOSER, "open")
        assert codes(give(elm, job, step)) == ["hold_not_asked"]
        answer(elm, hold, "stands_down")
        done(give(elm, job, step))

    def test_nobody_answers_for_him_but_the_desk_that_heard_him(self, elm: Elm) -> None:
        hold = a_hold(elm)
        heard: dict[str, Any] = {"hold": hold.pk, "said": "stays", "done_at": timezone.now()}
        assert codes(holds.answer_hold(elm.who(elm.ana), **heard)) == ["not_the_holder"]
        assert codes(holds.answer_hold(elm.who(elm.dana), **heard)) == ["not_the_holder"]
        entry = done(
            holds.answer_hold(elm.who(elm.dana, elm.bo, "telephone"), **heard, words="we come down")
        ).entry
        assert entry.words.startswith(
            "Bo Lindqvist, entered by Dana Reyes (telephone): stays for the opening"
        )
        assert entry.words.endswith("«we come down»")
        assert codes(holds.answer_hold(elm.who(elm.bo), **heard | {"said": "maybe"})) == ["unknown_word"]

    def test_the_hold_tag_stays_beside_the_clearance_s_and_the_device_goes_back_with_reclosing_off(
        self, elm: Elm
    ) -> None:
        job = elm.job("told")
        hold = a_hold(elm)
        answer(elm, hold, "stays")
        job = elm.bring(job, "released", since="told")
        assert [tag.number for tag in at_device.tags_at(RECLOSER)] == [f"{job.pk}-1"]
        untag = step_at(elm, job, "restore", RECLOSER, "remove_tag")
        close = step_at(elm, job, "restore", RECLOSER, "close")
        for step in elm.steps(job, "restore"):
            if step.pk == close.pk:
                break
            done(give(elm, job, step))
            elm.report_step(step)
        assert untag.place < close.place
        assert switching.words_of(close) == (
            f"Close R-31 A, B, C at P-274, Elm Street; leave reclosing OFF: hot-line hold {hold.number}, "
            "Bo Lindqvist"
        )
        assert codes(give(elm, job, close)) == ["hold_not_reached"]
        answer(elm, hold, "yes")
        entry = done(give(elm, job, close)).entry
        assert f"leave reclosing OFF: hot-line hold {hold.number}" in entry.words
        elm.report_step(close)
        hold.refresh_from_db()
        assert hold.state == "accepted"
        give_back(elm, hold)
        assert "reclosing" not in switching.words_of(close)


class TestARecloserThatOpensUnderAHold:
    def test_the_opening_is_stored_and_says_who_works_there(self, cast: Cast) -> None:
        hold = a_hold(cast)
        stands(cast, RECLOSER, "open")
        entry = LogEntry.objects.get(verb="report_position")
        assert entry.irregular == (
            "R-31 A, B, C found open, with no order behind it. Bo Lindqvist, 555-0142, works energized "
            f"beyond it under hot-line hold {hold.number}."
        )
        assert positions.open_phases()[RECLOSER] == "ABC"

    def test_no_close_is_ordered_until_the_holder_was_reached_since(self, elm: Elm) -> None:
        """Elm's clearance was released and its recloser waits to be closed when the hold is given; then a yes
        from before another opening does not count."""
        job, close = self.waiting_to_close(elm)
        hold = a_hold(elm)
        answer(elm, hold, "yes")
        stands(elm, RECLOSER, "open")
        said = give(elm, job, close)
        (text,) = texts(said)
        assert text == (
            "R-31 can't be ordered closed, nor test closed: beyond it Bo Lindqvist, 555-0142, works under "
            f"hot-line hold {hold.number} and has not said yes to it."
        )
        answer(elm, hold, "no")
        assert codes(give(elm, job, close)) == ["hold_not_reached"]
        answer(elm, hold, "yes")
        done(give(elm, job, close))

    def test_of_two_crews_each_is_reached(self, elm: Elm) -> None:
        job, close = self.waiting_to_close(elm)
        one, other = a_hold(elm), a_hold(elm, holder=elm.ana, from_pole="P-276", to_pole="P-277")
        answer(elm, one, "yes")
        assert [text for text in texts(give(elm, job, close)) if other.number in text]
        answer(elm, other, "yes")
        done(give(elm, job, close))

    def waiting_to_close(self, elm: Elm) -> tuple[Clearance, Step]:
        """R-31's close is next."""
        job = elm.job("released")
        close = step_at(elm, job, "restore", RECLOSER, "close")
        for step in elm.steps(job, "restore"):
            if step.pk == close.pk:
                break
            done(give(elm, job, step))
            elm.report_step(step)
        return job, close


class TestS40ATestCloseAsksWhoDependsOnIt:
    """The breaker of feeder 14 has opened. Before it is closed again: whose clearance, whose hold?"""

    def test_a_hold_beyond_is_named_and_counts_until_its_holder_says_yes(self, cast: Cast) -> None:
        hold = a_hold(cast)
        assert at_device.hits_of_closing("B-14", "ABC") == ()
        stands(cast, "B-14", "open")
        (hit,) = at_device.hits_of_closing("B-14", "ABC")
        assert (hit.what, hit.under, hit.reach, hit.agreed) == (
            "the line at P-278 to P-279, phases A, B, C", f"hot-line hold {hold.number}",
            "Bo Lindqvist, 555-0142", False,
        )  # fmt: skip
        answer(cast, hold, "yes")
        (hit,) = at_device.hits_of_closing("B-14", "ABC")
        assert hit.agreed

    def test_a_clearance_behind_its_own_points_is_not_hit(self, tap: Tap) -> None:
        """41's points are open: fine. The hold's crew on the other feeder has nothing to do with it."""
        tap.job("tested")
        a_hold(tap)
        stands(tap, "B-12", "open")
        assert at_device.hits_of_closing("B-12", "ABC") == ()

    def test_a_clearance_that_one_point_alone_keeps_from_it_is_named(self, tap: Tap) -> None:
        """Who would be hit if one of the points were wrong: the holder is called first."""
        job = tap.job("tested")
        stands(tap, "B-12", "open")
        (said,) = closing.asked_first("B-12", "ABC")
        assert said == (
            f"Ana Duarte, 555-0117: nothing but C-233 would stand between (clearance {job.pk}, recall "
            "time 20 min). Call first, and enter the answer as a remark."
        )
        assert closing.asked_first("B-14", "ABC") == []

    def test_a_close_that_would_energize_a_hold_from_the_other_end_is_refused(self, elm: Elm) -> None:
        """The tie N-7 closes while the recloser stands open under a hold: Bo's line comes back over it."""
        job = elm.job("released")
        closes = [one for one in elm.steps(job, "restore") if one.operation == "close"]
        hold = a_hold(elm)
        stands(elm, "B-14", "open")
        for step in elm.steps(job, "restore"):
            said = give(elm, job, step)
            if step in closes:
                break
            elm.report_step(step)
        assert set(codes(said)) <= {"hold_not_reached", "close_energizes_hold"}
        assert all(hold.number in text for text in texts(said))


class TestTheDatabase:
    """Typed by hand as the board's own role."""

    def test_no_hold_without_reclosing_off_and_its_tag(self, cast: Cast) -> None:
        hold = a_hold(cast, "asked")
        give = GIVE_HOLD
        assert refused("hold_with_reclosing_off", give, cast.dana.pk, hold.pk) == (
            "Reclosing at R-31 is not reported off."
        )
        say(cast, hold, "reclose_off")
        refused("hold_with_its_tag", give, cast.dana.pk, hold.pk)
        say(cast, hold, "tag_hung")
        typed("UPDATE clearances_person SET may_hold_until = '2020-01-01' WHERE id = %s", hold.holder_id)
        refused("hold_holder_qualified", give, cast.dana.pk, hold.pk)
        typed("UPDATE clearances_person SET may_hold_until = '2100-01-01' WHERE id = %s", hold.holder_id)
        typed(give, cast.dana.pk, hold.pk)
        say(cast, hold, "reclose_on")
        accept = (
            "UPDATE clearances_hotlinehold SET state = 'accepted', accepted_at = now(),"
            " accepted_words = 'yes' WHERE id = %s"
        )
        refused("hold_with_reclosing_off", accept, hold.pk)

    def test_no_hold_while_the_device_is_being_operated(self, elm: Elm) -> None:
        job = elm.job("told")
        hold = a_hold(elm, "asked")
        say(elm, hold, "reclose_off")
        say(elm, hold, "tag_hung")
        done(give(elm, job, step_at(elm, job, "isolate", RECLOSER, "open")))
        assert codes(holds.give_hold(elm.who(elm.dana), hold=hold.pk)) == ["device_being_operated"]
        refused("hold_with_no_step_out", GIVE_HOLD, elm.dana.pk, hold.pk)

    def test_no_step_against_a_hold_whose_holder_has_not_answered(self, elm: Elm) -> None:
        job = elm.job("told")
        hold = a_hold(elm)
        step = step_at(elm, job, "isolate", RECLOSER, "open")
        assert refused("no_open_unasked", GIVE_STEP, elm.dana.pk, step.pk) == (
            f"R-31 can't be ordered open: the holder of hot-line hold {hold.number} has not answered."
        )
        answer(elm, hold, "stays")
        typed(GIVE_STEP, elm.dana.pk, step.pk)
        done(
            reporting.report_step(
                elm.who(elm.sal), step=step.pk, phases="ABC", done_at=timezone.now(),
                made_inoperable="locked open", tag=True,
            )
        )  # fmt: skip

    def test_no_close_before_a_yes_that_is_newer_than_the_opening(self, elm: Elm) -> None:
        _, close = TestARecloserThatOpensUnderAHold().waiting_to_close(elm)
        hold = a_hold(elm)
        answer(elm, hold, "yes")
        stands(elm, RECLOSER, "open")  # seen and stored as ever
        assert refused("no_close_unreached", GIVE_STEP, elm.dana.pk, close.pk) == (
            f"R-31 can't be ordered closed: the holder of hot-line hold {hold.number} has not said yes since "
            "it opened."
        )
        answer(elm, hold, "yes")
        typed(GIVE_STEP, elm.dana.pk, close.pk)

    def test_that_somebody_closes_it_all_the_same_is_stored_and_marked(self, cast: Cast) -> None:
        hold = a_hold(cast)
        stands(cast, RECLOSER, "open")
        stands(cast, RECLOSER, "closed")
        assert hold.number in LogEntry.objects.filter(verb="report_position").latest("number").irregular
        assert RECLOSER not in positions.open_phases()

    def test_only_the_holder_gives_back(self, cast: Cast) -> None:
        hold = a_hold(cast)
        breaks(
            "hold_given_back_by_holder",
            "UPDATE clearances_hotlinehold SET state = 'given_back', given_back_at = now(),"
            " given_back_by_id = %s WHERE id = %s",
            cast.dana.pk, hold.pk,
        )  # fmt: skip

    def test_what_was_written_stands_and_is_kept(self, cast: Cast) -> None:
        hold = a_hold(cast)
        for column, value in (("device_id", "B-14"), ("holder_id", cast.ana.pk), ("accepted_words", "other")):
            refused(
                "protection_stands",
                f"UPDATE clearances_hotlinehold SET {column} = %s WHERE id = %s",
                value, hold.pk,
            )  # fmt: skip
        refused("history_is_kept", "DELETE FROM clearances_hotlinehold WHERE id = %s", hold.pk)
        refused("history_is_kept", "DELETE FROM clearances_holdreport WHERE hold_id = %s", hold.pk)
        refused(
            "history_is_kept", "UPDATE clearances_holdreport SET said = 'yes' WHERE hold_id = %s", hold.pk
        )

    def test_a_number_is_never_used_again(self, cast: Cast) -> None:
        """Also that of a hold that came to nothing; and none looks like a clearance's."""
        first, second = a_hold(cast, "withdrawn"), a_hold(cast, "asked")
        assert second.pk > first.pk
        assert not second.number.isdecimal()
        assert HotLineHold.objects.count() == 2


def test_giving_and_giving_back_ask_who_you_are_again() -> None:
    assert all(VERBS[name].again for name in ("give_hold", "give_back_hold"))
