"""Scenarios of who is in charge, and for whom they work: given, when, then. The numbers are those of the list
that this board was designed by; what each asks for is said here.
"""

import datetime
from typing import Any

from django.utils import timezone

from clearances import flags, replay
from clearances.models import Clearance, Person
from clearances.services import exchange, giving, people
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .looking import acts, look
from .plays import Tap
from .said import codes, leans_on, texts
from .sql import GIVE, breaks, no_right, refused, typed

KEEL = "Keel Line Builders"
TOLD: dict[str, Any] = {
    "with_whom": "Ivo Brandt",
    "told": "12.47 kV wye, fed from C-233 alone; a spliced neutral at P-252",
    "heard": "a bucket truck on the slope below P-253",
}


def give(cast: Cast, clearance: Clearance) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=version)


def of_keel(cast: Cast, person: Person) -> Person:
    """The person works for a contractor from now on."""
    names = ("first_name", "last_name", "roles", "phone", "may_hold_until")
    known = {name: getattr(person, name) for name in names}
    done(people.save_person(cast.who(cast.ruth), person=person.username, employer=KEEL, **known))
    person.refresh_from_db()
    return person


def tell(cast: Cast, clearance: Clearance, by: Person | None = None, **changed: Any) -> Outcome:
    said = {"done_at": timezone.now()} | TOLD | changed
    return exchange.record_exchange(cast.who(by or cast.dana), clearance=clearance.pk, **said)


class TestS29OnePersonTwoClearances:
    """The same person holds, or asks for, two clearances in the same hours."""

    def test_at_different_sites_the_second_is_not_given_while_the_first_is_out(self, tap: Tap) -> None:
        """Ana has the section on Quarry Lane; Weir Close shares no pole with it."""
        quarry = Cast.present().job("accepted")
        second = tap.asked()
        entry = second.entries.get(verb="ask_for_clearance")
        hours = f"{timezone.localtime(quarry.window_start):%d %b %H:%M} to "
        hours += f"{timezone.localtime(quarry.promised_end):%H:%M}"
        assert (
            f"Ana Duarte also has clearance {quarry.pk} (primary P-213 to P-218, phases A, B, C), {hours}, "
            "with no pole in common: this one is not given while that one is out."
        ) in entry.words
        (flag,) = [one.flag for one in flags.current() if one.flag.code == "holder_twice"]
        assert flag.text == (
            f"Ana Duarte holds or asks for both {quarry.pk} and {second.pk}, which have no pole in common, "
            f"{hours}: the second is not given while the first is out."
        )
        desk = look(tap.dana, "/desk/").text
        assert flag.text in desk

        second = tap.bring(second, "isolated")
        said = give(tap, second)
        (text,) = texts(said)
        assert text == (
            f"Ana Duarte holds clearance {quarry.pk} (primary P-213 to P-218, phases A, B, C), which has no "
            f"pole in common with clearance {second.pk}: nobody is in charge at two sites at once."
        )
        assert leans_on(said) == {"one holder, one site (common practice)"}
        assert text in look(tap.dana, f"/desk/clearances/{second.pk}/").text
        assert refused("holder_at_one_site", GIVE, tap.dana.pk, second.pk) == (
            f"The holder has clearance {quarry.pk}, which has no pole in common with clearance {second.pk}."
        )
        # The way past: the first is released.
        tap.release(Clearance.objects.get(pk=quarry.pk))
        done(give(tap, second))
        assert "holder_twice" not in {one.flag.code for one in flags.current()}

    def test_the_other_way_past_is_another_holder(self, tap: Tap) -> None:
        quarry = Cast.present().job("accepted")
        bos = tap.bring(tap.asked(holder=tap.bo), "isolated")
        done(give(tap, bos))
        twice = {one.flag.code: one.flag.text for one in flags.current()}
        assert "holder_twice" not in twice
        # The same crew for both is told, with the hours.
        assert twice["crew_twice"].startswith(
            f"{quarry.pk} (Ana Duarte, 555-0117) and {bos.pk} (Bo Lindqvist, 555-0142), which have no pole "
            "in common, are both asked for line 1, "
        )

    def test_in_other_hours_nothing_is_said(self, tap: Tap) -> None:
        quarry = tap.asked(from_pole="P-213", to_pole="P-218", phases="ABC")
        later = tap.asked(start=quarry.promised_end)
        assert "also has" not in later.entries.get(verb="ask_for_clearance").words
        assert not {"holder_twice", "crew_twice"} & {one.flag.code for one in flags.current()}

    def test_at_the_same_site_it_is_normal(self, tap: Tap) -> None:
        """Two pieces of the same line that share P-252."""
        one = tap.job("accepted")
        two = tap.bring(tap.asked(to_pole="P-252"), "isolated")
        assert "also has" not in two.entries.get(verb="ask_for_clearance").words
        assert "holder_twice" not in {each.flag.code for each in flags.current()}
        done(give(tap, two))
        assert {Clearance.objects.get(pk=each.pk).holder_id for each in (one, two)} == {tap.ana.pk}
        assert set(Clearance.objects.filter(state__in=["given", "accepted"])) == {one, two}

    def test_a_pole_is_one_site_whatever_hangs_on_it(self, cast: Cast) -> None:
        """The primary at P-217, and T-217 behind its own cutout on the same pole: not one node in common."""
        quarry = cast.job("accepted")
        bank = cast.asked(from_pole="", to_pole="", phases="", transformer="T-217")
        assert not set(quarry.limits.values_list("node")) & set(bank.limits.values_list("node"))
        assert "also has" not in bank.entries.get(verb="ask_for_clearance").words
        assert typed("SELECT board_site(%s) && board_site(%s)", quarry.pk, bank.pk) == [(True,)]


class TestS28AContractorsForeman:
    """Bo works for Keel Line Builders."""

    def test_he_is_on_the_qualified_list_and_it_ends(self, tap: Tap) -> None:
        bo = of_keel(tap, tap.bo)
        clearance = tap.bring(tap.asked(holder=bo), "isolated")
        done(tell(tap, clearance))
        yesterday = timezone.localdate() - datetime.timedelta(days=1)
        Person.objects.filter(pk=bo.pk).update(may_hold_until=yesterday)
        assert codes(give(tap, clearance)) == ["holder_not_qualified"]

    def test_nothing_is_given_before_they_have_told_each_other(self, tap: Tap) -> None:
        bo = of_keel(tap, tap.bo)
        clearance = tap.bring(tap.asked(holder=bo), "isolated")
        page = f"/desk/clearances/{clearance.pk}/"
        said = give(tap, clearance)
        (text,) = texts(said)
        assert text == (
            "Bo Lindqvist works for Keel Line Builders, and it is not recorded that the utility and the "
            "contractor have told each other what they know of the site and of the hazards."
        )
        assert leans_on(said) == {"29 CFR 1910.269(a)(3) (seen)"}
        seen = look(tap.dana, page)
        assert text in seen.text
        assert acts(seen, "record_exchange")
        assert refused("contractor_told", GIVE, tap.dana.pk, clearance.pk) == (
            f"No exchange of what is known of the site is recorded for clearance {clearance.pk}."
        )
        assert codes(tell(tap, clearance, told=" ")) == ["exchange_in_part"]
        assert codes(tell(tap, clearance, by=bo)) == ["role"]
        in_an_hour = timezone.now() + datetime.timedelta(hours=1)
        assert codes(tell(tap, clearance, done_at=in_an_hour)) == ["exchange_ahead"]

        entry = done(tell(tap, clearance)).entry
        assert entry.words.startswith(f"Dana Reyes records for clearance {clearance.pk} what was told, ")
        assert f"By Ivo Brandt: {TOLD['heard']}." in entry.words
        assert (
            "By the utility: 12.47 kV wye"
            in look(tap.dana, f"/do/give_clearance/?clearance={clearance.pk}").text
        )
        done(give(tap, clearance))
        assert list(replay.differences()) == []
        assert (
            "By the utility: 12.47 kV wye" in look(bo, f"/do/accept_clearance/?clearance={clearance.pk}").text
        )

    def test_or_a_person_of_the_utility_holds_it_and_stays(self, tap: Tap) -> None:
        """Bo's people work, Ana asks for the clearance: she is at the site, and nowhere else (S29)."""
        of_keel(tap, tap.bo)
        clearance = tap.bring(tap.asked(holder=tap.ana), "isolated")
        done(give(tap, clearance))

    def test_he_does_not_record_it_for_himself(self, tap: Tap) -> None:
        """Somebody may be foreman and operator; what he says to himself is no exchange."""
        Person.objects.filter(pk=tap.bo.pk).update(roles=["foreman", "operator"])
        tap.bo.refresh_from_db()
        bo = of_keel(tap, tap.bo)
        clearance = tap.bring(tap.asked(holder=bo), "isolated")
        assert codes(tell(tap, clearance, by=bo)) == ["own_exchange"]
        done(tell(tap, clearance, by=tap.ines))
        done(give(tap, clearance))

    def test_the_administrator_sees_who_counts_as_one(self, tap: Tap) -> None:
        of_keel(tap, tap.bo)
        said = look(tap.ruth, "/desk/people/").text
        assert "Bo Lindqvist bo crew foreman" in said
        assert said.count(KEEL) == 1

    def test_whose_employer_is_not_on_record_counts_as_another_s(self, tap: Tap) -> None:
        names = ("first_name", "last_name", "roles", "may_hold_until")
        known = {name: getattr(tap.bo, name) for name in names}
        done(people.save_person(tap.who(tap.ruth), person="bo", **known))
        clearance = tap.bring(tap.asked(holder=tap.bo), "isolated")
        tap.bo.refresh_from_db()
        assert texts(give(tap, clearance))[0].startswith(
            "Bo Lindqvist works for an employer who is not on record, and it is not recorded"
        )

    def test_what_was_told_stands(self, tap: Tap) -> None:
        clearance = tap.job("asked")
        done(tell(tap, clearance))
        refused("history_is_kept", "DELETE FROM clearances_informationexchange")
        refused("history_is_kept", "UPDATE clearances_informationexchange SET told = 'nothing'")
        no_right("TRUNCATE clearances_informationexchange")
        breaks(
            "exchange_in_full",
            "INSERT INTO clearances_informationexchange (clearance_id, with_whom, told, heard, done_at,"
            " recorded_by_id) VALUES (%s, 'Ivo Brandt', '', 'a truck', now(), %s)",
            clearance.pk,
            tap.dana.pk,
        )
