"""What a person ought to look at although nobody asked: one sentence each, with the names of those concerned.

A flag refuses nothing. It is computed from the present picture every time, so it goes when its reason goes.
"""

import datetime
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from .facts import Hit, Path
from .words import are, in_order, letters

UNTAG_WITHIN = datetime.timedelta(minutes=30)


@dataclass(frozen=True, slots=True)
class Flag:
    """`code` for machines, `about` what it hangs on (with `code` it names the flag), `text` the sentence;
    `level` is "now" or "soon".
    """

    code: str
    about: str
    text: str
    level: str
    clearance: int | None = None


@dataclass(frozen=True, slots=True)
class Held:
    """A clearance asked for or out: its window, the (node, phase) pairs inside, the poles these stand at, its
    points, who is on it, and which crew it is asked for.
    """

    number: int
    holder: str
    phone: str
    out: bool
    start: datetime.datetime
    end: datetime.datetime
    limits: frozenset[tuple[str, str]]
    poles: Mapping[str, str]
    points: frozenset[str]
    people: frozenset[str] = frozenset()
    crew: str = ""

    @property
    def site(self) -> frozenset[str]:
        """The poles of its limits; a node at none counts by itself."""
        return frozenset(self.poles.get(node, node) for node, _ in self.limits)

    @property
    def named(self) -> str:
        return (
            f"{self.number} ({self.holder}, {self.phone})" if self.phone else f"{self.number} ({self.holder})"
        )


@dataclass(frozen=True, slots=True)
class HungTag:
    """A live tag: where, on which phases, and since when its clearance is over (None while it is not)."""

    number: str
    device: str
    phases: str
    clearance: int
    over_since: datetime.datetime | None


def _meet(one: Held, other: Held) -> bool:
    """Both out, or their windows overlap."""
    return (one.out and other.out) or (one.start < other.end and other.start < one.end)


def _hours(one: Held, other: Held) -> str:
    """The hours that two windows have in common; two that are out past theirs meet now."""
    start, end = max(one.start, other.start), min(one.end, other.end)
    return f"{start:%d %b %H:%M} to {end:%H:%M}" if start < end else "now"


def overlaps(held: Sequence[Held]) -> Iterator[Flag]:
    """Two clearances with common limits, a common point, or a person on both, at the same time; a common
    holder or crew of two that have no pole in common.
    """
    for one, other in combinations(sorted(held, key=lambda each: each.number), 2):
        if not _meet(one, other):
            continue
        pair = f"{one.number} {other.number}"
        if common := one.limits & other.limits:
            poles = ", ".join(sorted({one.poles.get(node, node) for node, _ in common}))
            text = (
                f"The limits of {one.named} and {other.named} overlap at {poles}: the grounds and "
                "the release of both are needed."
            )
            yield Flag("limits_overlap", pair, text, "soon", one.number)
        if shared := one.points & other.points:
            text = (
                f"{', '.join(sorted(shared))} is a point of both {one.named} and {other.named}: it stays "
                f"open until both are released, {max(one.end, other.end):%d %b %H:%M} as promised."
            )
            yield Flag("point_shared", pair, text, "soon", one.number)
        if not one.site & other.site:
            yield from _apart(one, other, pair)
        for name in sorted(one.people & other.people):
            text = f"{name} is signed on under both {one.named} and {other.named}."
            yield Flag("person_twice", f"{pair} {name}", text, "now", one.number)


def _apart(one: Held, other: Held, pair: str) -> Iterator[Flag]:
    """Two sites: their holder can't be at both, and their crew may be meant to be."""
    if one.holder == other.holder:
        text = (
            f"{one.holder} holds or asks for both {one.number} and {other.number}, which have no pole in "
            f"common, {_hours(one, other)}: the second is not given while the first is out."
        )
        yield Flag("holder_twice", pair, text, "soon", one.number)
    elif one.crew and one.crew.casefold() == other.crew.casefold():
        text = (
            f"{one.named} and {other.named}, which have no pole in common, are both asked for {one.crew}, "
            f"{_hours(one, other)}."
        )
        yield Flag("crew_twice", pair, text, "soon", one.number)


def late(held: Sequence[Held], now: datetime.datetime) -> Iterator[Flag]:
    """A clearance that is out past its promised end."""
    for each in held:
        if each.out and each.end < now:
            minutes = int((now - each.end).total_seconds() // 60)
            past = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
            text = f"Clearance {each.named} is {past} past its promised end."
            yield Flag("past_promised_end", str(each.number), text, "now", each.number)


def orphan_tags(tags: Sequence[HungTag], now: datetime.datetime) -> Iterator[Flag]:
    """A tag that still hangs although its clearance has been over for a while."""
    for tag in tags:
        if tag.over_since is not None and tag.over_since + UNTAG_WITHIN < now:
            text = (
                f"Tag {tag.number} is still on {tag.device} {letters(tag.phases)}, but clearance "
                f"{tag.clearance} is over."
            )
            yield Flag("tag_without_clearance", tag.number, text, "soon", tag.clearance)


def upset(plans: Iterable[tuple[int, str, Collection[Path]]]) -> Iterator[Flag]:
    """A checked order, its number and holder, that leaves its limits fed: the network has changed since."""
    for number, holder, paths in plans:
        for path in paths:
            text = (
                f"With every point of order {number} ({holder}) open and tagged, {are(path.phases)} still "
                f"fed on the network as it is now: {path.words}."
            )
            yield Flag("plan_leaves_source", f"{number} {path.words}", text, "soon", number)


def meets(orders: Iterable[tuple[int, str, Collection[Hit]]]) -> Iterator[Flag]:
    """A checked order, its number and holder, that picks up load which hangs on what another one opens in the
    same hours: one of their windows has moved since."""
    for number, holder, hits in orders:
        for hit in hits:
            text = f"{hit.what}: order {number} ({holder}) and clearance {hit.clearance} ({hit.reach})."
            yield Flag("pick_up_meets_other", f"{number} {hit.clearance}", text, "soon", number)


def fed(out: Iterable[tuple[int, str, Collection[Path]]]) -> Iterator[Flag]:
    """A clearance that is out, its number and holder, whose limits something reaches past its points as they
    are reported."""
    for number, holder, paths in out:
        for path in paths:
            text = f"Under clearance {number} ({holder}) {are(path.phases)} fed: {path.words}."
            yield Flag("limits_fed", f"{number} {path.words}", text, "now", number)


def holds_fed_too(holds: Iterable[Hit]) -> Iterator[Flag]:
    """A hot-line hold that is out, whose line is also fed by a way on which something may close again."""
    for hit in holds:
        text = f"{hit.what}. Call {hit.reach}, who has {hit.under} there."
        yield Flag("hold_fed_another_way", hit.under, text, "now")


@dataclass(frozen=True, slots=True)
class WaitingStep:
    """A step that an order not yet over would give; `has`: the phases that its device has now; `picks_up`: it
    is for no point, so a tie is closed that normally stands open."""

    order: int
    place: int
    operation: str
    device: str
    phases: str
    has: str
    picks_up: bool = False


def not_as_left(
    steps: Iterable[WaitingStep], normally_open: Mapping[str, str], unlike: Collection[str]
) -> Iterator[Flag]:
    """An order written for an older network: a step for phases that its device has no more, a close of what
    normally stands open now, or of what joins unlike phases (`unlike`: the ties that do)."""
    for step in steps:
        closes = step.operation == "close"
        wrong = in_order(set(step.phases) & set(normally_open.get(step.device, "")))
        does = "closes" if closes else "is for"
        if closes and step.device in unlike:
            why = "which would join unlike phases"
        elif (gone := in_order(set(step.phases) - set(step.has))) and step.operation != "remove_tag":
            why = f"which has {letters(step.has)} now, not {letters(gone)},"
        elif closes and wrong and not step.picks_up:
            why = f"which normally stands open on {letters(wrong)}"
        else:
            continue
        text = f"Step {step.place} of order {step.order} {does} {step.device}, {why} as the network was left."
        yield Flag("order_not_as_left", f"{step.order} {step.place}", text, "now", step.order)


@dataclass(frozen=True, slots=True)
class Change:
    """A change set that is not over: in words, its clearance, why the board does not have it yet ("" where it
    has), and until when a temporary jumper in it may stay (None without)."""

    number: int
    words: str
    clearance: int
    unsettled: str
    until: datetime.datetime | None


def changes_left(changes: Iterable[Change], now: datetime.datetime) -> Iterator[Flag]:
    """What was built otherwise than the board has it, and jumpers that have stayed too long."""
    for change in changes:
        if change.unsettled:
            text = f"Change set {change.number} ({change.words}) is not in the network as it stands: "
            yield Flag(
                "change_unsettled", str(change.number), text + change.unsettled, "now", change.clearance
            )
        if change.until is not None and change.until < now:
            text = (
                f"Change set {change.number} ({change.words}) was to stay until {change.until:%d %b %H:%M}."
            )
            yield Flag("jumper_overdue", str(change.number), text, "now", change.clearance)


def unexplained(
    off_normal: Mapping[str, str], tags: Sequence[HungTag], in_orders: Collection[str]
) -> Iterator[Flag]:
    """A device out of its normal position on phases (`off_normal`) that no tag and no order under way
    accounts for.
    """
    tagged = {tag.device for tag in tags}
    for device, phases in sorted(off_normal.items()):
        if device not in tagged and device not in in_orders:
            text = (
                f"{device} {letters(phases)} is out of its normal position, with no tag and no order "
                "that says why."
            )
            yield Flag("position_without_reason", device, text, "soon")
