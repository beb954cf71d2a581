"""Hot-line holds: asked for, given, accepted, answered for, given back.

An opening that nobody ordered is never refused (`reporting`); what binds is the next order (`switching`).
"""

import datetime
from collections.abc import Collection
from dataclasses import replace

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.core import limits as core_limits
from circuits.core.network import Compiled
from circuits.core.standing import without
from circuits.core.trace import trace
from circuits.models import Device

from .. import protections
from ..at_device import ordered_closed
from ..models import HoldReport, HotLineHold, Role, Step
from ..rules import holds as rules
from ..rules.clauses import HOT_LINE_HOLD, PICTURE
from ..rules.refusal import Refusal
from ..rules.words import letters
from .reporting import AHEAD, REPORTERS
from .switching import where
from .verb import Outcome, Refused, Who, verb, write

State = HotLineHold.State
SEEN = ("reclose_off", "reclose_on", "tag_hung", "tag_off")
ANSWERS = ("stands_down", "stays", "yes", "no")


def lock_hold(pk: int) -> HotLineHold:
    """The hold, its row locked until the transaction ends."""
    rows = HotLineHold.objects.select_for_update(no_key=True, of=("self",))
    return rows.select_related("holder", "device__structure").get(pk=pk)


def as_fact(hold: HotLineHold) -> rules.Hold:
    """What the rules look at, but for how the place is fed: that takes a search."""
    return rules.Hold(
        number=hold.number,
        state=hold.state,
        holder=str(hold.holder),
        device=hold.device_id,
        now_holds=hold.holder.may_hold_on(timezone.localdate()),
        blocked=protections.reclosing_off(hold),
        tagged=protections.tagged(hold),
        ordered=Step.objects.filter(device=hold.device_id, state=Step.State.GIVEN).exists(),
        place=hold.place_words,
    )


def _as_fed(hold: HotLineHold) -> rules.Hold:
    """The same with how the place is fed, every close that is ordered done."""
    stands = without(positions.open_phases(), ordered_closed())
    ((_, way),) = protections.fed_too([hold], stands)
    return replace(as_fact(hold), fed_too=way)


def unknown_device(device: str) -> Refusal:
    text = f"{device} is not a device on the network."
    return Refusal("unknown_device", device, text, PICTURE, "Read the number again at the pole.")


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def ask_for_hold(
    who: Who, *, device: str, from_pole: str, to_pole: str, phases: str, work: str, crew: str
) -> Outcome:
    """A foreman whose crew will work energized asks that a device that closes by itself be kept from it."""
    row = Device.objects.filter(pk=device).first()
    if row is None:
        return Refused((unknown_device(device),))
    compiled = snapshot.compiled()
    try:
        inside = core_limits.between(compiled, from_pole, to_pole, phases).nodes
    except core_limits.NoSuchLimits as error:
        place = f"{from_pole} {to_pole}"
        return Refused(
            (Refusal("limits", place, str(error), HOT_LINE_HOLD, "Name the poles and phases again."),)
        )
    run = f"at {from_pole}" if from_pole == to_pole else f"{from_pole} to {to_pole}"
    place = f"{run}, phases {letters(phases)}"
    refusals = rules.may_ask_for_hold(
        holder=str(who.actor),
        qualified=who.actor.may_hold_on(timezone.localdate()),
        device=device,
        # Not known counts as yes.
        closes_by_itself=row.recloses is not False or row.remote is not False,
        on_the_way=_on_the_way(compiled, row, inside),
        place=place,
    )
    if refusals:
        return Refused(refusals)
    hold = HotLineHold.objects.create(
        device=row,
        holder=who.actor,
        crew=crew,
        work=work,
        place_words=place,
        nodes=[node for node, _ in inside],
        phases=phases,
        asked_at=timezone.now(),
    )
    words = f"{who.said_by} asks for hot-line hold {hold.number} at {device} ({where(row)}): {work}, {place}."
    return write(who, "ask_for_hold", words, hold=hold.pk, device=device, nodes=hold.nodes)


def _on_the_way(compiled: Compiled, device: Device, inside: Collection[tuple[str, str]]) -> bool:
    """Whether a station feeds the place over the device as all others stand, or would if it closed."""
    stands = positions.open_phases()
    others = {one: phases for one, phases in stands.items() if one != device.pk}
    stations = {source.id for source in compiled.network.sources if source.is_station}
    ways = isolation.live_paths(compiled, others, inside)
    if any(device.pk in way.devices for way in ways if way.source_id in stations):
        return True
    now, without = trace(compiled, others), trace(compiled, {**others, device.pk: device.phases})
    points = [(node, phase) for node, phases in inside for phase in phases]
    return any(now.answer(*point) != without.answer(*point) for point in points)


@verb(*REPORTERS, field_word=True)
def report_hold(who: Who, *, hold: int, said: str, done_at: datetime.datetime, words: str = "") -> Outcome:
    """What was done or is seen at the device of a hold: reclosing off or on, the hold tag hung or off. Always
    stored.
    """
    row = lock_hold(hold)
    if said not in SEEN:
        return Refused((_unknown_word(row, said),))
    return _report(who, row, "report_hold", said, done_at, words)


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def answer_hold(who: Who, *, hold: int, said: str, done_at: datetime.datetime, words: str = "") -> Outcome:
    """The holder's answer: stands down or stays for an opening, yes or no to a close. It counts for a while
    only, and a yes only for what the desk knew when it was entered.
    """
    row = lock_hold(hold)
    if said not in ANSWERS:
        return Refused((_unknown_word(row, said),))
    if who.actor.pk != row.holder_id:
        return Refused((rules.not_the_holder(as_fact(row)),))
    return _report(who, row, "answer_hold", said, done_at, words)


def _unknown_word(hold: HotLineHold, word: str) -> Refusal:
    text = f"«{word}» is none of the words that a hot-line hold is spoken of with."
    return Refusal("unknown_word", hold.number, text, PICTURE, "Choose one of the words offered.")


def _report(
    who: Who, hold: HotLineHold, verb_name: str, said: str, done_at: datetime.datetime, words: str
) -> Outcome:
    ahead = "The time lies ahead of the board's clock." if done_at > timezone.now() + AHEAD else ""
    report = HoldReport.objects.create(
        hold=hold,
        said=said,
        words=words,
        done_at=done_at,
        entered_at=timezone.now(),
        said_by=who.said_by,
        irregular=ahead,
    )
    report.refresh_from_db(fields=["irregular"])  # the database marks what does not fit the state
    own = f" «{words}»" if words else ""
    text = (
        f"{who.said_by}: {HoldReport.Said(said).label} at {hold.device_id}, hot-line hold {hold.number}, "
        f"{timezone.localtime(done_at):%H:%M}.{own}"
    )
    return write(who, verb_name, text, done_at=done_at, irregular=report.irregular, hold=hold.pk, said=said)


@verb(Role.OPERATOR, again=True)
def give_hold(who: Who, *, hold: int) -> Outcome:
    """Give the hold to its holder, when reclosing is reported off and the hold tag hung, and nothing else
    feeds the place."""
    row = lock_hold(hold)
    if refusals := rules.may_give_hold(_as_fed(row)):
        return Refused(refusals)
    HotLineHold.objects.filter(pk=row.pk).update(
        state=State.GIVEN, given_at=timezone.now(), given_by=who.actor
    )
    words = (
        f"{who.actor} gives hot-line hold {row.number} to {row.holder}: reclosing off at {row.device_id}, "
        f"hold tag {row.number} hung. Work energized at {row.place_words}."
    )
    return write(who, "give_hold", words, hold=row.pk)


@verb(Role.FOREMAN, Role.OPERATOR, field_word=True)
def accept_hold(who: Who, *, hold: int, read_back: str) -> Outcome:
    """The holder accepts, reading the device and the place of the work back."""
    row = lock_hold(hold)
    is_holder = who.actor.pk == row.holder_id
    if refusals := rules.may_accept_hold(_as_fed(row), is_holder=is_holder, read_back=read_back):
        return Refused(refusals)
    HotLineHold.objects.filter(pk=row.pk).update(
        state=State.ACCEPTED, accepted_at=timezone.now(), accepted_words=read_back.strip()
    )
    words = f"{who.said_by} accepts hot-line hold {row.number}: «{read_back.strip()}»"
    return write(who, "accept_hold", words, hold=row.pk)


@verb(Role.OPERATOR)
def withdraw_hold(who: Who, *, hold: int, why: str) -> Outcome:
    """Asked for or given, but not accepted: it is not to be."""
    row = lock_hold(hold)
    waiting = HotLineHold.objects.filter(pk=row.pk, state__in=[State.ASKED, State.GIVEN])
    if not waiting.update(state=State.WITHDRAWN):
        text = f"Hot-line hold {row.number} is {State(row.state).label}."
        way = f"{row.holder} gives it back." if row.state == State.ACCEPTED else "Look at it as it stands."
        return Refused((Refusal("not_withdrawn", row.number, text, HOT_LINE_HOLD, way),))
    words = f"Hot-line hold {row.number} ({row.holder}) withdrawn: {why}."
    return write(who, "withdraw_hold", words, hold=row.pk)


@verb(Role.FOREMAN, Role.OPERATOR, again=True, field_word=True)
def give_back_hold(who: Who, *, hold: int, told_everyone: bool) -> Outcome:
    """The holder gives it back. Reclosing and the tag are then put back by hand, and reported."""
    row = lock_hold(hold)
    is_holder = who.actor.pk == row.holder_id
    refusals = rules.may_give_back_hold(as_fact(row), is_holder=is_holder, told_everyone=told_everyone)
    if refusals:
        return Refused(refusals)
    HotLineHold.objects.filter(pk=row.pk).update(
        state=State.GIVEN_BACK, given_back_at=timezone.now(), given_back_by=who.actor
    )
    words = f"{who.said_by} gives hot-line hold {row.number} at {row.device_id} back: everyone told."
    return write(who, "give_back_hold", words, hold=row.pk)
