"""The flags of now: rows into values, the rules' answer, and since when each has stood.

Computed when a page is read, after every verb and by beat once a minute; the table only remembers since when,
so that lateness never depends on
a process that may have stopped.
"""

import datetime
import functools
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connection
from django.db.models import Q
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.proving.proof import Line
from circuits.core.values import normally_open

from . import calls, early, facts, pickups, proofs, protections
from .models import ChangeSet, Clearance, StandingFlag, Step
from .rules import flags as rules
from .rules.early import early as too_early
from .rules.facts import Hit, Path
from .rules.words import in_order


@dataclass(frozen=True, slots=True)
class Raised:
    flag: rules.Flag
    since: datetime.datetime


def _held() -> list[rules.Held]:
    compiled = snapshot.compiled()
    rows = (
        Clearance.objects.exclude(state__in=[Clearance.State.RELEASED, Clearance.State.WITHDRAWN])
        .select_related("holder")
        .prefetch_related("limits", "points", "sign_ons")
    )
    out = []
    for row in rows:
        limits = facts.limits_of(row, compiled)
        out.append(
            rules.Held(
                number=row.pk,
                holder=str(row.holder),
                phone=row.holder.phone,
                out=row.state in facts.OUT,
                start=timezone.localtime(row.window_start),
                end=timezone.localtime(row.promised_end),
                limits=limits,
                poles={node: compiled.network.pole(node) or node for node, _ in limits},
                points=frozenset(point.device_id for point in row.points.all()),
                people=frozenset(one.name for one in row.sign_ons.all() if one.off_at is None),
                crew=row.crew,
            )
        )
    return out


def _tags() -> list[rules.HungTag]:
    out = []
    for tag in facts.live_tags().select_related("clearance"):
        clearance = tag.clearance
        # One that was called off has no hour of its end: its tags count from when they were hung.
        over = {Clearance.State.RELEASED: clearance.released_at, Clearance.State.WITHDRAWN: tag.hung_at}.get(
            Clearance.State(clearance.state)
        )
        out.append(rules.HungTag(tag.number, tag.device_id, tag.phases, clearance.pk, over))
    return out


def _plans() -> Iterator[tuple[int, str, tuple[Path, ...]]]:
    """The checked orders of clearances that are only asked for, with what their points leave fed; a draft too
    once the network is another than the one it was written on.
    """
    revision = snapshot.compiled().network.revision
    upset = Q(order__state__in=facts.UNDER_WAY) | Q(
        order__state="draft", order__network_revision__lt=revision
    )
    for row in Clearance.objects.filter(upset, state=Clearance.State.ASKED).select_related("holder"):
        yield row.pk, str(row.holder), _leaves_fed(row.pk, row.version, revision)


def _out() -> Iterator[tuple[int, str, tuple[Path, ...]]]:
    """The clearances that are out, with what reaches their limits past the points as they are reported."""
    return ((row.pk, str(row.holder), proofs.told(lines)) for row, lines in reached())


def reached() -> Iterator[tuple[Clearance, tuple[Line, ...]]]:
    """Each clearance that is out, with the lines of its proof that do not hold."""
    rows = Clearance.objects.filter(state__in=facts.OUT).select_related("holder")
    if not (out := list(rows.prefetch_related("points", "limits", "dispositions"))):
        return
    revision = snapshot.compiled().network.revision
    details = positions.details({point.device_id for row in out for point in row.points.all()})
    tags = list(facts.live_tags().filter(clearance__in=out))
    for row in out:
        own = [tag for tag in tags if tag.clearance_id == row.pk]
        points = facts.as_points(row.points.all(), details, own)
        blocked = tuple((point.device, point.blocking) for point in points)
        yield row, _reached(row, blocked, revision)


@functools.lru_cache(maxsize=256)
def _reached(row: Clearance, blocked: tuple[tuple[str, str], ...], revision: int) -> tuple[Line, ...]:
    """Searched once for what is reported and each network, as `_leaves_fed`; the limits of a clearance that
    is out stand."""
    return proofs.broken(row, dict(blocked))


def _meeting() -> Iterator[tuple[int, str, tuple[Hit, ...]]]:
    """The checked orders that pick load up, with what they meet in their hours: a window may have moved since
    the check."""
    checked = Clearance.objects.filter(order__state__in=facts.UNDER_WAY).exclude(state__in=facts.OVER)
    revision = snapshot.compiled().network.revision
    for row in checked.filter(pick_ups__isnull=False).distinct().select_related("holder").order_by("pk"):
        others = facts.in_hours(row.window_start, row.promised_end).order_by("pk")
        yield row.pk, str(row.holder), _meets(row.pk, tuple(others.values_list("pk", "version")), revision)


@functools.lru_cache(maxsize=256)
def _meets(number: int, others: tuple[tuple[int, int], ...], revision: int) -> tuple[Hit, ...]:
    """Searched once, as `_leaves_fed`."""
    return pickups.meeting(Clearance.objects.get(pk=number))


def _holds_fed_too() -> Iterator[Hit]:
    """The hot-line holds that are out and whose place a station feeds by a way on which nothing is off."""
    if not (out := list(protections.holds())):
        return
    for hold, way in protections.fed_too(out, positions.open_phases()):
        if way:
            what = f"{hold.place_words} is also fed another way than over {hold.device_id}: {way}"
            yield Hit(what, 0, str(hold.holder), hold.holder.phone, f"hot-line hold {hold.number}")


def _waiting() -> list[rules.WaitingStep]:
    rows = Step.objects.filter(state=Step.State.WAITING, order__state__in=["draft", "checked", "paused"])
    found = rows.order_by("order", "place").values_list(
        "order", "place", "operation", "device", "phases", "device__phases", "point"
    )
    return [rules.WaitingStep(*one[:6], picks_up=one[6] is None) for one in found]


def _unlike() -> set[str]:
    """The secondary ties whose two sides derive from different phases."""
    network = snapshot.compiled().network
    return {
        device.id
        for device in network.devices
        if device.kind == "secondary_tie"
        and network.node[device.from_node].phases != network.node[device.to_node].phases
    }


def _changes() -> Iterator[rules.Change]:
    for row in ChangeSet.objects.exclude(unsettled="", until=None).exclude(
        state__in=[ChangeSet.State.NOT_DONE, ChangeSet.State.PLANNED]
    ):
        gone = row.state != ChangeSet.State.CONFIRMED or row.until is None
        until = None if gone else timezone.localtime(row.until)
        yield rules.Change(row.pk, row.words, row.clearance_id, row.unsettled, until)


@functools.lru_cache(maxsize=256)
def _leaves_fed(number: int, version: int, revision: int) -> tuple[Path, ...]:
    """Searched once for each state of a clearance and of the network: the desk asks at every look."""
    row = Clearance.objects.get(pk=number)
    return facts.paths(row, dict(row.points.values_list("device_id", "phases")))


def off_normal(open_now: dict[str, str]) -> dict[str, str]:
    """Per device the phases that do not stand as they normally do."""
    normal = normally_open(snapshot.compiled().network)
    return {
        device: in_order(set(open_now.get(device, "")) ^ set(normal.get(device, "")))
        for device in {*open_now, *normal}
        if open_now.get(device) != normal.get(device)
    }


def _now_flags(now: datetime.datetime) -> list[rules.Flag]:
    held, tags = _held(), _tags()
    in_orders = set(
        Step.objects.filter(order__state__in=facts.UNDER_WAY)
        .exclude(half=Step.Half.ISOLATE, state=Step.State.WAITING)
        .values_list("device", flat=True)
    )
    return [
        *rules.late(held, now),
        *rules.overlaps(held),
        *rules.orphan_tags(tags, now),
        *rules.upset(_plans()),
        *rules.meets(_meeting()),
        *rules.unexplained(off_normal(positions.open_phases()), tags, in_orders | protections.kept_open()),
        *calls.flags(),
        *rules.fed(_out()),
        *rules.holds_fed_too(_holds_fed_too()),
        *rules.not_as_left(_waiting(), normally_open(snapshot.compiled().network), _unlike()),
        *rules.changes_left(_changes(), now),
        *too_early(early.orders()),
    ]


def current() -> list[Raised]:
    """Every flag of now, the loud ones first; those that the table does not know yet are as old as this
    moment.
    """
    now = timezone.now()
    since = {(row.code, row.about): row.since for row in StandingFlag.objects.all()}
    raised = [Raised(flag, since.get((flag.code, flag.about), now)) for flag in _now_flags(now)]
    return sorted(raised, key=lambda one: (one.flag.level != "now", one.since))


def refresh() -> int:
    """Bring the table to what stands now; the desk's pages are told to look again if anything changed. Gives
    the number of flags.
    """
    now = timezone.now()
    flags = {(flag.code, flag.about): flag for flag in _now_flags(now)}
    gone = [row.pk for row in StandingFlag.objects.all() if (row.code, row.about) not in flags]
    removed, _ = StandingFlag.objects.filter(pk__in=gone).delete()
    known = set(StandingFlag.objects.values_list("code", "about"))
    new = [
        StandingFlag(code=code, about=about, since=now) for code, about in flags if (code, about) not in known
    ]
    StandingFlag.objects.bulk_create(new, ignore_conflicts=True)
    if removed or new:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_notify('board', '')")
    return len(flags)
