"""What the network's pages and imports ask of the clearances (named in config/settings.py)."""

from collections import defaultdict
from collections.abc import Collection, Iterator

from circuits import oneline, snapshot
from circuits.core.network import Compiled
from circuits.core.trace import Trace
from circuits.upward import Ids, Marks

from . import facts
from .models import Clearance, GroundSet, IsolationPoint, Limit
from .rules.words import in_order

OVER = (Clearance.State.RELEASED, Clearance.State.WITHDRAWN)


def marks() -> Marks:
    """The live tags by device, and every clearance that is out as a band over its limits."""
    return Marks(
        _tags(), bands(Clearance.objects.filter(state__in=facts.OUT).order_by("pk"), snapshot.compiled())
    )


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
    clearances: Collection[Clearance], compiled: Compiled, state: Trace, *, width: int
) -> oneline.OneLine | None:
    """The one-line around the limits of some clearances; None without any."""
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
    )


def may_import(removed: Ids, changed: Ids) -> list[str]:
    """Why an import may not be: it removes or moves something under a clearance that is not over, a tag or a
    ground set.
    """
    return [
        *_under_clearances(removed, changed),
        *_under_tags(removed, changed),
        *_under_grounds(removed, changed),
    ]


def _does(table: str, ident: str, removed: Ids) -> str:
    return "leaves out" if ident in removed.get(table, ()) else "changes"


def _touched(table: str, removed: Ids, changed: Ids) -> set[str]:
    return set(removed.get(table, ())) | set(changed.get(table, ()))


def _under_clearances(removed: Ids, changed: Ids) -> Iterator[str]:
    for table, field in (("nodes", "node"), ("lines", "line")):
        limits = Limit.objects.filter(**{f"{field}__in": _touched(table, removed, changed)})
        rows = limits.exclude(clearance__state__in=OVER).values_list(
            field, "clearance", "clearance__holder__last_name"
        )
        for ident, number, holder in rows.order_by(field, "clearance"):
            does = _does(table, ident, removed)
            yield f"It {does} {field} {ident}, which is inside the limits of clearance {number} ({holder})."
    points = IsolationPoint.objects.filter(device__in=_touched("devices", removed, changed))
    held = points.exclude(clearance__state__in=OVER).values_list(
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
