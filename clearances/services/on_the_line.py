"""What the crew reports from the line: people on and off, tests for voltage, ground sets on and off.

All of these are observations. None is refused for what it says; one that does not fit is stored, marked
irregular, and shown.
"""

import datetime

from django.utils import timezone

from circuits.models import Structure

from .. import facts
from ..models import Clearance, GroundSet, Role, SignOn, VoltageTest
from ..rules.words import in_order, letters
from .phone import since
from .reporting import AHEAD, REPORTERS
from .verb import Outcome, Who, lock_clearance, touch, verb, write


def _clock(done_at: datetime.datetime) -> str:
    return "The time lies ahead of the board's clock." if done_at > timezone.now() + AHEAD else ""


def _join(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _hhmm(at: datetime.datetime) -> str:
    return f"{timezone.localtime(at):%H:%M}"


def _known(pole: str) -> str:
    return "" if Structure.objects.filter(pk=pole).exists() else f"{pole} is not a pole on the network."


@verb(*REPORTERS, field_word=True)
def sign_on(who: Who, *, clearance: int, name: str, done_at: datetime.datetime) -> Outcome:
    """A person comes under the clearance."""
    row = lock_clearance(clearance)
    over = row.state in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN)
    frozen = row.state == Clearance.State.FROZEN
    ways = facts.facts_of(row).paths if row.state == Clearance.State.ACCEPTED else ()
    irregular = _join(
        f"Clearance {row.pk} is {row.state}." if over or frozen else "",
        f"A source reaches its limits: {ways[0].words}." if ways else "",
        _clock(done_at),
    )
    elsewhere = SignOn.objects.filter(name=name, off_at=None).exclude(clearance=row).first()
    if elsewhere:
        irregular = _join(irregular, f"{name} is still signed on under clearance {elsewhere.clearance_id}.")
    if row.sign_ons.filter(name=name, off_at=None).exists():
        irregular = _join(irregular, f"{name} is already signed on.")
    else:
        row.sign_ons.create(name=name, on_at=done_at, irregular=irregular)
    touch(row, expected=None)
    words = f"{who.said_by}: {name} signs on, {_hhmm(done_at)}."
    return write(who, "sign_on", words, clearance=row, done_at=done_at, irregular=irregular, name=name)


@verb(*REPORTERS, field_word=True)
def sign_off(who: Who, *, clearance: int, name: str, done_at: datetime.datetime) -> Outcome:
    """A person is off the line and no longer under the clearance."""
    row = lock_clearance(clearance)
    newer = since(who.phone, "sign_off", row, {"name": name})  # a late word ends nothing entered since
    was_on = not newer and row.sign_ons.filter(name=name, off_at=None).update(off_at=done_at)
    irregular = _join("" if was_on or newer else f"{name} was not signed on.", _clock(done_at))
    touch(row, expected=None)
    words = f"{who.said_by}: {name} signs off, {_hhmm(done_at)}."
    return write(who, "sign_off", words, clearance=row, done_at=done_at, irregular=irregular, name=name)


@verb(*REPORTERS, field_word=True)
def report_test(
    who: Who,
    *,
    clearance: int,
    pole: str,
    phases: str,
    result: str,
    instrument: str,
    tester_proven: bool,
    done_at: datetime.datetime,
) -> Outcome:
    """A test for voltage. Voltage present freezes an accepted clearance at once. No phases named: all that
    are inside the limits.
    """
    row = lock_clearance(clearance)
    phases = in_order(phases) or facts.phases_of(row.limits.all())
    present = result == VoltageTest.Result.PRESENT
    early = row.state in (Clearance.State.ASKED, Clearance.State.GIVEN)
    irregular = _join(
        f"VOLTAGE PRESENT at {pole}, phase {letters(phases)}." if present else "",
        "Tested before the clearance was given and accepted." if early else "",
        _known(pole),
        "" if tester_proven else "The tester was not proven before and after.",
        _clock(done_at),
    )
    row.tests.create(
        pole=pole,
        phases=phases,
        result=result,
        instrument=instrument,
        tester_proven=tester_proven,
        done_at=done_at,
        said_by=who.said_by,
        irregular=irregular,
        queued=bool(who.phone and who.phone.late),
    )
    frozen = present and row.state == Clearance.State.ACCEPTED
    touch(
        row, expected=None, **({"state": Clearance.State.FROZEN, "frozen_why": irregular} if frozen else {})
    )
    words = (
        f"{who.said_by}: tested at {pole}, {letters(phases)}: {VoltageTest.Result(result).label}, "
        f"{_hhmm(done_at)}."
    )
    return write(
        who,
        "report_test",
        words,
        clearance=row,
        done_at=done_at,
        irregular=irregular,
        pole=pole,
        result=result,
    )


@verb(*REPORTERS, field_word=True)
def ground_on(
    who: Who, *, clearance: int, label: str, pole: str, phases: str, done_at: datetime.datetime
) -> Outcome:
    """A ground set is on, by its number, at a pole. No phases named: all that are inside the limits. A set
    without a number gets a name of its own, so that it is counted.
    """
    row = lock_clearance(clearance)
    phases = in_order(phases) or facts.phases_of(row.limits.all())
    tested = facts.tested_since_accepted(row).filter(done_at__lte=done_at)
    missing = in_order(set(phases) - set(facts.phases_of(tested)))
    unnamed = "" if label.strip() else "It was said without a number."
    label = label.strip() or f"no number {row.ground_sets.filter(label__startswith='no number').count() + 1}"
    pole = pole.strip() or "pole not said"
    held = row.state == Clearance.State.ACCEPTED
    irregular = _join(
        "" if held else f"Clearance {row.pk} is {row.state}.",
        unnamed,
        _known(pole),
        f"No test without voltage on {letters(missing)} since the clearance was accepted." if missing else "",
        _clock(done_at),
    )
    standing = GroundSet.objects.filter(label=label, off_at=None).first()
    if standing:
        irregular = _join(irregular, f"{label} is already reported on at {standing.pole}.")
    if not row.ground_sets.filter(label=label, pole=pole, off_at=None).exists():
        ground = row.ground_sets.create(
            label=label,
            pole=pole,
            phases=phases,
            on_at=done_at,
            on_by=who.said_by,
            irregular=irregular,
        )
        ground.refresh_from_db(fields=["irregular"])  # with what the database found
        irregular = ground.irregular
    touch(row, expected=None)
    words = f"{who.said_by}: ground set {label} on at {pole}, {letters(phases)}, {_hhmm(done_at)}."
    return write(
        who, "ground_on", words, clearance=row, done_at=done_at, irregular=irregular, label=label, pole=pole
    )


@verb(*REPORTERS, field_word=True)
def ground_off(who: Who, *, clearance: int, label: str, done_at: datetime.datetime) -> Outcome:
    """A ground set is off, by its number."""
    row = lock_clearance(clearance)
    on = row.ground_sets.filter(label=label, off_at=None)
    one = on.values("pk")[:1]  # of a number that was reported at two poles, one word takes one off
    newer = since(who.phone, "ground_off", row, {"label": label})  # a late word ends nothing entered since
    was_on = not newer and row.ground_sets.filter(pk__in=one).update(off_at=done_at, off_by=who.said_by)
    others = ", ".join(on.values_list("pole", flat=True))
    irregular = _join(
        "" if was_on or newer else f"{label} was not reported on under clearance {row.pk}.",
        f"{label} is still reported on at {others}." if others else "",
        _clock(done_at),
    )
    touch(row, expected=None)
    left = facts.facts_of(row, trace_paths=False).grounds
    words = f"{who.said_by}: ground set {label} off, {_hhmm(done_at)}; {len(left)} left on."
    return write(who, "ground_off", words, clearance=row, done_at=done_at, irregular=irregular, label=label)


@verb(*REPORTERS, Role.SERVICE, field_word=True)
def remark(
    who: Who, *, words: str, done_at: datetime.datetime, clearance: int | None = None, look: bool = True
) -> Outcome:
    """Anything else that was seen or said, in the speaker's own words; `look` puts it in front of the desk
    until somebody answers.
    """
    row = lock_clearance(clearance) if clearance else None
    irregular = "Needs a look." if look else ""
    return write(
        who, "remark", f"{who.said_by}: {words}", clearance=row, done_at=done_at, irregular=irregular
    )
