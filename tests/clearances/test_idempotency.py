"""The same message twice is one event: the first answer comes again, and nothing changes.

That two at the very same moment are one event too is in `tests/races`.
"""

import uuid
from typing import Any

from django.utils import timezone

from clearances.models import Clearance, LogEntry
from clearances.services import giving, on_the_line, switching
from clearances.services.verb import Done, Refused, Who
from tests.cast import done

from .plays import Tap
from .sql import breaks, typed


def test_a_message_sent_again_gives_the_first_answer(tap: Tap) -> None:
    clearance = tap.job("accepted")
    who = tap.who(tap.sal)
    said: dict[str, Any] = {"clearance": clearance.pk, "name": "Sal Moreno", "done_at": timezone.now()}
    first = done(on_the_line.sign_on(who, **said))
    count, version = LogEntry.objects.count(), Clearance.objects.get().version
    again = done(on_the_line.sign_on(who, **said))
    assert (first.repeated, again.repeated) == (False, True)
    assert again.entry == first.entry
    assert again.entry.irregular == ""  # not «already signed on»
    assert (LogEntry.objects.count(), Clearance.objects.get().version) == (count, version)
    assert clearance.sign_ons.count() == 1


def test_an_order_sent_again_is_not_refused_because_it_was_given(tap: Tap) -> None:
    """A second «give» of a given step is refused; the same one resent was done."""
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    who = tap.who(tap.dana)
    said: dict[str, Any] = {
        "step": step.pk,
        "version": clearance.version,
        "given_to": "Sal Moreno",
        "repeated_back": True,
    }
    first = done(switching.give_step(who, **said))
    assert done(switching.give_step(who, **said)).entry == first.entry
    assert isinstance(switching.give_step(tap.who(tap.dana), **said), Refused)


def test_a_release_sent_again_releases_once(tap: Tap) -> None:
    clearance = tap.job("people and grounds off")
    who = tap.who(tap.ana)
    said: dict[str, Any] = {
        "clearance": clearance.pk,
        "version": clearance.version,
        "told_everyone": True,
        "all_off": True,
    }
    first = done(giving.release_clearance(who, **said))
    again = giving.release_clearance(who, **said)
    assert isinstance(again, Done)
    assert again.entry == first.entry
    assert LogEntry.objects.filter(verb="release_clearance").count() == 1


def test_what_was_refused_may_be_tried_again_with_the_same_key(tap: Tap) -> None:
    """Only what was done is kept: the telephone resends the same message after the person is off."""
    clearance = tap.job("working")
    tap_who = tap.who(tap.ana)
    said: dict[str, Any] = {
        "clearance": clearance.pk,
        "version": None,
        "told_everyone": True,
        "all_off": True,
    }
    assert isinstance(giving.release_clearance(tap_who, **said), Refused)
    tap.leave(clearance)
    assert not done(giving.release_clearance(tap_who, **said)).repeated


def test_without_a_key_every_message_is_its_own(tap: Tap) -> None:
    clearance = tap.job("accepted")
    who = Who(tap.sal)
    said: dict[str, Any] = {"clearance": clearance.pk, "words": "Dog in the yard.", "done_at": timezone.now()}
    first, second = (done(on_the_line.remark(who, **said)) for _ in range(2))
    assert first.entry != second.entry


def test_the_database_takes_no_key_twice(tap: Tap) -> None:
    tap.asked()
    key = uuid.uuid4()
    sql = (
        "INSERT INTO clearances_logentry"
        " (number, verb, words, by_id, how, entered_at, irregular, data, previous, digest, key)"
        " SELECT number + 1, 'remark', '', %s, 'board', now(), '', '{}', digest, md5(digest), %s"
        " FROM clearances_logentry ORDER BY number DESC LIMIT 1"
    )
    typed(sql, tap.dana.pk, key)
    breaks("one_entry_a_key", sql, tap.dana.pk, key)
