"""What is printed: the switching order, the clearance sheet, the device tags. Each is a record of what was
known when it was printed.
"""

from typing import Any

from django.conf import settings
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.models import Device, NetworkRevision

from .. import at_device, effects, facts, protections
from ..models import Clearance, HotLineHold, Step, SwitchingOrder
from ..rules.orders import expected_positions
from ..rules.words import in_order, letters
from ..services.switching import where, words_of
from ..templatetags.board import clock


def head(clearance: Clearance, title: str) -> dict[str, Any]:
    """What every paper of a clearance says at the top."""
    revision = NetworkRevision.objects.order_by("-pk").first()
    network = f" · network as of {clock(revision.imported_at)}" if revision else ""
    return {
        "title": f"{title} {clearance.pk}",
        "head": f"{settings.UTILITY_NAME} · {title} {clearance.pk}, revision {clearance.version} · "
        f"printed {timezone.localtime():%d %b %Y %H:%M:%S}{network}",
        "clearance": clearance,
        "reach": ", ".join(part for part in (clearance.holder.phone, clearance.holder.radio) if part),
    }


def order(clearance: Clearance) -> dict[str, Any]:
    """Both halves with the position expected before and after each step, and the customers out after it."""
    written = (
        SwitchingOrder.objects.filter(clearance=clearance).select_related("written_by", "checked_by").first()
    )
    steps = list(
        Step.objects.filter(order=written).select_related("device__structure", "point", "given_by")
        if written
        else ()
    )
    stands = _before_it_began(steps)
    expected = expected_positions(facts.steps_of(clearance), stands)
    before = effects.without_supply(stands)
    running = dict(stands)
    rows: dict[str, list[dict[str, Any]]] = {"isolate": [], "restore": []}
    for step, (was, then) in zip(steps, expected, strict=True):
        others = set(running.get(step.device_id, "")) - set(step.phases)
        running[step.device_id] = in_order(others | set(then))
        rows[step.half].append(
            {
                "step": step,
                "words": words_of(step),
                "where": where(step.device),
                "before": _open_words(step.phases, was),
                "after": _open_words(step.phases, then),
                "out": len(effects.without_supply(running) - before),
            }
        )
    return head(clearance, "Switching order") | {
        "order": written,
        "isolate": rows["isolate"],
        "restore": rows["restore"],
    }


def _before_it_began(steps: list[Step]) -> dict[str, str]:
    """Phases that stand open per device with the isolate half undone: where the order starts from."""
    stands = {device: set(phases) for device, phases in positions.open_phases().items()}
    for step in steps:
        if step.half != Step.Half.ISOLATE:
            continue
        if step.operation == Step.Operation.OPEN:
            stands[step.device_id] = stands.get(step.device_id, set()) - set(step.phases)
        else:  # it was to be found open, or a tie that was to be closed
            stands[step.device_id] = stands.get(step.device_id, set()) | set(step.phases)
    return {device: in_order(phases) for device, phases in stands.items()}


def _open_words(phases: str, stands_open: str) -> str:
    shut = in_order(set(phases) - set(stands_open))
    parts = [f"{letters(stands_open)} open" if stands_open else "", f"{letters(shut)} closed" if shut else ""]
    return "; ".join(part for part in parts if part)


def sheet(clearance: Clearance) -> dict[str, Any]:
    """The clearance sheet, with room for a pen where the log goes on by hand."""
    compiled = snapshot.compiled()
    now = facts.facts_of(clearance)
    devices = Device.ever.select_related("structure").in_bulk([point.device for point in now.points])
    details = positions.details([point.device for point in now.points])
    points = []
    for point in now.points:
        reports = [report for phase in point.phases if (report := details.get((point.device, phase)))]
        last = max(reports, key=lambda report: report.done_at, default=None)
        others = [tag for tag in at_device.tags_at(point.device) if tag.clearance != clearance.pk]
        points.append({"point": point, "where": where(devices[point.device]), "last": last, "others": others})
    blocked = {point.device: point.blocking for point in now.points if point.blocking}
    still, limits = facts.still_blocks(compiled, blocked), facts.limits_of(clearance, compiled)
    return head(clearance, "Clearance sheet") | {
        "points": points,
        "live": now.paths,
        "told": [isolation.words(compiled, path) for path in isolation.told(compiled, still, limits)],
        "dispositions": clearance.dispositions.select_related("agreed_by"),
        "tests": clearance.tests.all(),
        "grounds": clearance.ground_sets.all(),
        "people": clearance.sign_ons.all(),
        "changes": clearance.change_sets.all(),
    }


def tags(clearance: Clearance) -> dict[str, Any]:
    """One tag a point, large enough to be read from the ground."""
    points = list(clearance.points.select_related("device__structure"))
    rows = [
        {
            "point": point,
            "where": where(point.device),
            "n": number,
            "of": len(points),
            "hung": facts.live_tags().filter(number=point.tag_number).first(),
        }
        for number, point in enumerate(points, start=1)
    ]
    return head(clearance, "Device tags") | {"rows": rows}


def hold_tag(hold: HotLineHold) -> dict[str, Any]:
    """The tag of a hot-line hold: a form of its own, never the blank of a device tag."""
    title = f"Hold tag {hold.number}"
    return {
        "title": title,
        "head": f"{settings.UTILITY_NAME} · {title} · printed {timezone.localtime():%d %b %Y %H:%M:%S}",
        "hold": hold,
        "where": where(hold.device),
        "reach": ", ".join(part for part in (hold.holder.phone, hold.holder.radio) if part),
        "hung": protections.last(hold, "tag_hung", "tag_off") if protections.tagged(hold) else None,
    }


def head_css(words: str) -> str:
    """A style sheet that prints `words` at the top of every page.

    Only a margin box of @page is on each of them, and it can't read the page's own text; nothing inline is
    allowed, so it is served as a file.

    >>> head_css('a "b" ')
    '@page { @top-left { content: "a \\\\22 b\\\\22  "; font: 9pt sans-serif; } }'
    """
    plain = "".join(one if one.isalnum() or one in " ,.:·-" else f"\\{ord(one):x} " for one in words)
    return f'@page {{ @top-left {{ content: "{plain}"; font: 9pt sans-serif; }} }}'


PAPERS = {"order": order, "sheet": sheet, "tags": tags}
