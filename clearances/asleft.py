"""Change sets laid over the network and into it, and what an import may not undo of them."""

import datetime
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import psycopg
from django.db import OperationalError, transaction
from django.db.models import QuerySet

from circuits import asleft, positions, snapshot, story
from circuits.asleft import CannotBeError, Changes, RowChange
from circuits.core.network import Compiled
from circuits.models import NetworkRevision, PositionReport
from circuits.proving import Proved, prove
from circuits.tables import rows_by_id
from circuits.upward import Proposal

from . import facts
from .models import ChangeSet, Clearance, IsolationPoint, Job, Step
from .rules.words import are

State = ChangeSet.State
# One change as a change set keeps it: "change", "given", "words".
Kept = dict[str, Any]


def named(changes: Iterable[Kept]) -> list[tuple[str, dict[str, str]]]:
    """As `circuits.asleft.made` and `snapshot.planned` take them."""
    return [(one["change"], one["given"]) for one in changes]


@dataclass(frozen=True, slots=True)
class Judged:
    """The row changes of some changes on the network in use, the network with them, and in sentences why they
    can't be laid in."""

    changes: Changes = ()
    network: Compiled | None = None
    faults: tuple[str, ...] = ()


def judge(changes: Sequence[Kept]) -> Judged:
    """Hold changes against the network in use and what lies on it. Cost: one reading of the network, one
    compilation, two traces."""
    rows = rows_by_id()
    try:
        made = asleft.made(rows, named(changes))
    except CannotBeError as error:
        return Judged(faults=(str(error),))
    proved: Proved = prove(rows, made, snapshot.compiled())
    return Judged(made, proved.compiled, (*proved.faults, *_in_use(made)))


def _in_use(changes: Changes) -> Iterator[str]:
    """Devices that would be taken off although somebody relies on them."""
    gone = [one.id for one in changes if one.table == "devices" and one.after is None]
    for number, device in facts.live_tags().filter(device__in=gone).values_list("number", "device"):
        yield f"{device} carries tag {number}."
    points = IsolationPoint.objects.filter(device__in=gone).exclude(clearance__state__in=facts.OVER)
    for device, clearance in points.values_list("device", "clearance").order_by("device", "clearance"):
        yield f"{device} is a point of clearance {clearance}."
    steps = Step.objects.filter(device__in=gone, state__in=["waiting", "given"]).exclude(
        order__state__in=["finished", "withdrawn"]
    )
    for device, order in steps.values_list("device", "order").distinct().order_by("device", "order"):
        yield f"Order {order} has a step at {device} that is not done."


@dataclass(frozen=True, slots=True)
class Laid:
    """What became of laying changes in: the revision, or why there is none."""

    changes: Changes = ()
    revision: NetworkRevision | None = None
    faults: tuple[str, ...] = ()


def lay_in(
    row: ChangeSet, built: Sequence[Kept], *, said_by: str, how: str, done_at: datetime.datetime
) -> Laid:
    """Make what was built part of the network in use, if that can be.

    It is judged while others go on, on the network that all of them hold; only the writing waits for them and
    keeps them waiting. Devices stand as they stood: a new normal position moves nothing, and what was
    reported of a phase goes with the tap to its new phase. Whoever holds the network or its rows for long, an
    import above all, is not waited for.
    """
    judged = judge(built)
    if judged.faults or judged.network is None:
        return Laid(faults=judged.faults)
    if not judged.changes:  # the network has it already
        return Laid(revision=NetworkRevision.objects.latest("pk"))
    devices = [one.id for one in judged.changes if one.table == "devices" and one.before and one.after]
    stood = positions.details(devices)
    note = f"{row} of clearance {row.clearance_id} as built"
    try:
        with transaction.atomic():
            snapshot.hold(alone=True)
            if in_use := tuple(_in_use(judged.changes)):  # by now
                return Laid(faults=in_use)
            revision = story.lay_in(judged.changes, note=note, by=said_by)
    except OperationalError as error:
        if not isinstance(error.__cause__, psycopg.errors.LockNotAvailable):
            raise
        return Laid(faults=("The network is being changed at this moment: lay it in when that is done.",))
    snapshot.adopt(judged.network, revision.pk)
    for change in judged.changes:
        _keep_standing(change, stood, said_by=said_by, how=how, done_at=done_at)
    return Laid(judged.changes, revision)


def _keep_standing(
    change: RowChange,
    stood: dict[tuple[str, str], PositionReport | None],
    *,
    said_by: str,
    how: str,
    done_at: datetime.datetime,
) -> None:
    for old, new, was, now in asleft.moved_positions(change):
        report = stood.get((change.id, old))
        if (report is not None and old != new) or (report is None and was != now):
            positions.record(
                device_id=change.id,
                phases=new,
                position=report.position if report else was,
                made_inoperable=report.made_inoperable if report else "",
                said_by=said_by,
                how=how,
                ordered_at=None,
                done_at=done_at,
                reported_at=done_at,
            )


def standing() -> QuerySet[ChangeSet]:
    """What the field has confirmed and nobody has surveyed or withdrawn."""
    return ChangeSet.objects.filter(state=State.CONFIRMED).select_related(
        "clearance__holder", "clearance__job"
    )


def planned_before(moment: datetime.datetime, *, but: int | None = None) -> QuerySet[ChangeSet]:
    """The planned change sets of jobs whose window begins before a moment, in that order; `but` leaves those
    of one job out."""
    rows = ChangeSet.objects.filter(
        state=State.PLANNED, clearance__window_start__lt=moment, clearance__job__state=Job.State.ACTIVE
    )
    return rows.exclude(clearance__job=but).order_by("clearance__window_start", "pk")


def network_on(moment: datetime.datetime, *, but: int | None = None) -> Compiled:
    """The network in use with what is planned before a moment laid over; as it probably will be. Raises
    CannotBeError where one plan can't be laid over another."""
    rows = planned_before(moment, but=but)
    changes = [one for row in rows for one in named(row.planned)]
    return snapshot.planned(changes) if changes else snapshot.compiled()


def before(clearance: Clearance) -> tuple[str, ...]:
    """What other jobs are to change before a clearance's work begins, and what would then still feed its
    limits past the points that are chosen. Cost: nothing without such jobs; else as `network_on`, and a
    search."""
    rows = planned_before(clearance.window_start, but=clearance.job_id).select_related("clearance__holder")
    said = [
        f"Change set {row.pk} of clearance {row.clearance_id} ({row.clearance.holder}) is planned before "
        f"this work begins: {row.words}."
        for row in rows
    ]
    points = dict(clearance.points.values_list("device_id", "phases"))
    if said and points:
        try:
            compiled = network_on(clearance.window_start, but=clearance.job_id)
        except CannotBeError as error:
            return (*said, f"They can't all be built so: {error}")
        said += [
            f"With that built and every point open and tagged, {are(path.phases)} still fed: {path.words}."
            for path in facts.paths(clearance, points, compiled)
        ]
    return tuple(said)


def undone_by(proposal: Proposal) -> Iterator[str]:
    """Each confirmed change that an import would undo, in a sentence."""
    for row in standing():
        undone = [one for one in asleft.read(row.rows) if _undoes(proposal, one)]
        if undone:
            what = ", ".join(f"{one.table} {one.id}" for one in undone[:3])
            more = f" and {len(undone) - 3} more rows" if len(undone) > 3 else ""
            yield (
                f"It undoes {row} ({row.words}), which {row.said_by} confirmed as built: {what}{more}. "
                "Mark the change set surveyed or withdrawn first."
            )


def _undoes(proposal: Proposal, change: RowChange) -> bool:
    if change.after is None:
        return change.id in proposal.added.get(change.table, ())
    if change.id in proposal.removed.get(change.table, ()):
        return True
    return bool(change.columns & proposal.cells.get(change.table, {}).get(change.id, set()))
