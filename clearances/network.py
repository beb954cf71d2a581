"""What the network's pages and imports ask of the clearances (named in config/settings.py)."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from circuits import oneline, snapshot
from circuits.core import isolation
from circuits.core.beyond import beyond
from circuits.core.network import Compiled
from circuits.core.trace import Trace
from circuits.models import NetworkRevision
from circuits.upward import Ids, Marks, Proposal, Verdict

from . import asleft, facts, log, watch
from .beside import Beside
from .models import Clearance, GroundSet, IsolationPoint, Limit, Person, SwitchingOrder
from .rules.words import are, in_order

# Orders that a clearance which is only asked for may have, and that are not over.
WRITTEN = (SwitchingOrder.State.DRAFT, SwitchingOrder.State.CHECKED, SwitchingOrder.State.PAUSED)


def marks() -> Marks:
    """The live tags by device, every clearance that is out as a band over its limits, and what stands at a
    device that is no clearance.
    """
    out = Clearance.objects.filter(state__in=facts.OUT).order_by("pk")
    return Marks(_tags(), bands(out, snapshot.compiled()), Beside.read().notes())


def standing_on(device_id: str) -> list[str]:
    return Beside.read().at(device_id)


def _tags() -> dict[str, list[str]]:
    tags: dict[str, list[str]] = defaultdict(list)
    for device, number in facts.live_tags().order_by("number").values_list("device", "number"):
        tags[device].append(number)
    return dict(tags)


def bands(clearances: Collection[Clearance], compiled: Compiled) -> list[oneline.Band]:
    """What is written over the limits of each: its number, its holder, how many are on it."""
    out = []
    for one in clearances:
        people = sum(row.off_at is None for row in one.sign_ons.all())
        name = one.holder.last_name or str(one.holder)
        over = one.state in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN)
        stands = f"{name} · {people} on" if one.state in facts.OUT else "released" if over else "asked for"
        words = f"{one.pk} · {stands}"
        phases: dict[str, str] = defaultdict(str)
        for node, phase in facts.limits_of(one, compiled):
            phases[node] = in_order(phases[node] + phase)
        out.append(oneline.Band(words, sorted(phases.items())))
    return out


def drawing(
    clearances: Collection[Clearance],
    compiled: Compiled,
    state: Trace,
    *,
    width: int,
    beside: Beside | None = None,
) -> oneline.OneLine | None:
    """The one-line around the limits of some clearances, with what stands beside them (read here unless it
    was read before); None without any.
    """
    nodes = {node for one in clearances for node, _ in facts.limits_of(one, compiled)}
    if not nodes:
        return None
    return oneline.draw(
        compiled=compiled,
        state=state,
        around=nodes,
        width=width,
        tags=_tags(),
        bands=bands(clearances, compiled),
        notes=(beside or Beside.read()).notes(),
    )


def may_import(proposal: Proposal) -> Verdict:
    """Against an import: that it removes or moves something under a clearance that is not over, a tag or a
    ground set; that on the new network something still feeds a clearance that is out. Of written orders that
    leave something fed there it only tells: nobody relies on them yet, and none of them can be given so.
    """
    removed, changed = proposal.removed, proposal.changed
    return Verdict(
        against=(
            *_under_clearances(removed, changed),
            *_under_tags(removed, changed),
            *_under_grounds(removed, changed),
            *_beside(removed, changed),
            *_fed_behind(proposal.network),
            *asleft.undone_by(proposal),
            *_fed_again(proposal.network),
        ),
        consequences=tuple(_plans_upset(proposal.network)),
    )


def upset_by(compiled: Compiled) -> tuple[str, ...]:
    """What a new network does to clearances that are out, and to plans."""
    return (*_fed_again(compiled), *_plans_upset(compiled))


def imported(revision: NetworkRevision, by: object, consequences: Sequence[str]) -> None:
    """Log an import that a person of the board has done, with the orders that it upsets."""
    if isinstance(by, Person):
        note = f": {revision.note}" if revision.note else ""
        words = " ".join([f"{by} imports network revision {revision.pk}{note}.", *consequences])
        log.append(
            verb="import_network",
            words=words,
            by=by,
            speaking_for=None,
            how="board",
            entered_at=timezone.now(),
            data={"revision": revision.pk, "digest": revision.digest},
        )
    transaction.on_commit(watch.look, robust=True)


def _fed_again(compiled: Compiled) -> Iterator[str]:
    for one in _with_holders(Clearance.objects.filter(state__in=facts.OUT)):
        blocked = {point.device: point.blocking for point in facts.points_of(one)}
        for path in facts.paths(one, blocked, compiled):
            yield (
                f"Under clearance {one.pk} ({one.holder.last_name}) {are(path.phases)} fed on the new "
                f"network, with its points open and tagged as reported: {path.words}."
            )


def _fed_behind(compiled: Compiled) -> Iterator[str]:
    """The ways by which a source reaches a crew behind its own disconnect on the new network."""
    for field in Beside.read().field_clearances:
        device = compiled.network.device.get(field.device_id)
        if device is None or not set(field.phases) <= set(device.phases):
            continue  # named as changed or left out
        for way in facts.nearest(beyond(compiled, device.id, field.phases).ways):
            yield (
                f"Beyond {device.id}, where {field.holder} works under field clearance {field.number}, a "
                f"source reaches on the new network: {isolation.words(compiled, way)}."
            )


def _plans_upset(compiled: Compiled) -> Iterator[str]:
    """Written orders, and points that are only chosen, which would leave something fed."""
    asked = Clearance.objects.filter(state=Clearance.State.ASKED).filter(
        Q(order__state__in=WRITTEN) | Q(order=None, points__isnull=False)
    )
    for one in _with_holders(asked.distinct()).select_related("order"):
        blocked = dict(one.points.values_list("device_id", "phases"))
        order = getattr(one, "order", None)
        what = f"order {one.pk} ({one.holder.last_name}, {order.state})" if order else ""
        what = what or f"plan {one.pk} ({one.holder.last_name}, no order yet)"
        for path in facts.paths(one, blocked, compiled):
            yield (
                f"With every point of {what} open and "
                f"tagged, {are(path.phases)} still fed on the new network: {path.words}."
            )


def _with_holders(clearances: QuerySet[Clearance]) -> QuerySet[Clearance]:
    return clearances.select_related("holder").prefetch_related("limits", "dispositions").order_by("pk")


def _does(table: str, ident: str, removed: Ids) -> str:
    return "leaves out" if ident in removed.get(table, ()) else "changes"


def _touched(table: str, removed: Ids, changed: Ids) -> set[str]:
    return set(removed.get(table, ())) | set(changed.get(table, ()))


def _under_clearances(removed: Ids, changed: Ids) -> Iterator[str]:
    for table, field in (("nodes", "node"), ("lines", "line")):
        limits = Limit.objects.filter(**{f"{field}__in": _touched(table, removed, changed)})
        rows = limits.exclude(clearance__state__in=facts.OVER).values_list(
            field, "clearance", "clearance__holder__last_name"
        )
        for ident, number, holder in rows.order_by(field, "clearance"):
            does = _does(table, ident, removed)
            yield f"It {does} {field} {ident}, which is inside the limits of clearance {number} ({holder})."
    points = IsolationPoint.objects.filter(device__in=_touched("devices", removed, changed))
    held = points.exclude(clearance__state__in=facts.OVER).values_list(
        "device", "clearance", "clearance__holder__last_name"
    )
    for ident, number, holder in held.order_by("device", "clearance"):
        does = _does("devices", ident, removed)
        yield f"It {does} device {ident}, which is a point of clearance {number} ({holder})."


def _under_tags(removed: Ids, changed: Ids) -> Iterator[str]:
    tags = facts.live_tags().filter(device__in=_touched("devices", removed, changed)).order_by("number")
    for number, ident in tags.values_list("number", "device"):
        does = _does("devices", ident, removed)
        yield f"It {does} device {ident}, which carries tag {number}."


def _under_grounds(removed: Ids, changed: Ids) -> Iterator[str]:
    grounds = GroundSet.objects.filter(off_at=None, pole__in=_touched("structures", removed, changed))
    for label, pole in grounds.order_by("label").values_list("label", "pole"):
        does = _does("structures", pole, removed)
        yield f"It {does} pole {pole}, where ground set {label} is on."


def _beside(removed: Ids, changed: Ids) -> Iterator[str]:
    """What of an import lies under a hot-line hold, a do-not-operate or a field clearance."""
    devices, nodes = _touched("devices", removed, changed), _touched("nodes", removed, changed)
    now = Beside.read()
    for kind, rows in (
        ("hot-line hold", now.holds),
        ("do-not-operate", now.do_not_operates),
        ("field clearance", now.field_clearances),
    ):
        for row in rows:
            if row.device_id in devices:
                does = _does("devices", row.device_id, removed)
                yield f"It {does} device {row.device_id}, where {kind} {row.number} stands."
            for node in sorted(nodes & set(getattr(row, "nodes", ()))):
                does = _does("nodes", node, removed)
                yield f"It {does} node {node}, where people work under {kind} {row.number}."
