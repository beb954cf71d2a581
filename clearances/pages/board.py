"""The desk's first screen, in the order in which the desk asks: who is on the line now, which step is out,
what is out of its normal position, what needs somebody, which customers are out, what comes."""

from collections import defaultdict
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q
from django.urls import reverse

from circuits.core.trace import Answer

from .. import network
from ..acts.switching import TAG_SEEN
from ..models import AffectedPremises, Clearance, Interruption, Person, Step
from ..rules.words import in_order
from ..templatetags.board import clock
from . import out, standing, words
from .desk import Desk
from .needs import SILENT_STEP, needs
from .picture import Row, to_page

SILENT_CREW = timedelta(hours=2)  # common practice: a holder is heard every two to four hours
MEET = ("limits_overlap", "point_shared", "holder_twice", "crew_twice", "person_twice")
DAY = (6, 18)  # the hours that the strip shows when nothing lies outside them


def context(person: Person, back: str) -> dict[str, Any]:
    """What templates/desk/board.html names."""
    desk = Desk(person, back)
    return {
        "day": day(desk),
        "crews": [crew(desk, one) for one in desk.out],
        "totals": {
            "people": sum(len(signed_on(one)) for one in desk.out),
            "grounds": sum(len(grounds_on(one)) for one in desk.out),
        },
        "given": [given(desk, one, step, loud=not n) for n, (one, step) in enumerate(desk.given)],
        "abnormal": [abnormal(desk, device) for device in desk.abnormal],
        "beside": standing.rows(desk),
        "conflicts": [
            *(one.flag.text for one in desk.flags if one.flag.code in MEET and one.flag.level != "now"),
            *standing.meetings(desk),
        ],
        "oneline": network.drawing(desk.at_work, desk.compiled, desk.trace, beside=desk.beside, width=900),
        "oneline_title": "The line where work is",
        "needs": needs(desk),
        "customers": customers(desk),
        "upcoming": [
            upcoming(desk, one) for one in desk.asked if one.window_start <= desk.now + timedelta(days=1)
        ],
        "back_today": [back_today(one) for one in desk.released_today],
        "acts": desk.groups(
            {
                "Somebody reports": (
                    desk.act("open_now"),
                    desk.act("report_position"),
                    desk.act("report_position", TAG_SEEN, tag="1"),
                    desk.act("report_blown"),
                    desk.act("report_patrol"),
                    desk.act("report_half_bright"),
                    desk.act("take_call"),
                    desk.act("remark"),
                ),
                "Somebody asks": (
                    desk.act("ask_for_clearance"),
                    desk.act("ask_for_hold"),
                    desk.act("give_do_not_operate"),
                    desk.act("start_field_clearance"),
                ),
            }
        ),
    }


def signed_on(clearance: Clearance) -> list[str]:
    return [row.name for row in clearance.sign_ons.all() if row.off_at is None]


def grounds_on(clearance: Clearance) -> list[str]:
    return [f"{row.label} {row.pole}" for row in clearance.ground_sets.all() if row.off_at is None]


def crew(desk: Desk, one: Clearance) -> Row:
    """A clearance that is out, for components/crew.html."""
    points = desk.standing[one.pk]
    heard = desk.heard.get(one.pk) or one.given_at or desk.now
    given_at = one.given_at or desk.now
    whole = (one.promised_end - given_at) / timedelta(minutes=1)
    gone = (desk.now - given_at) / timedelta(minutes=1)
    silent = desk.now - heard
    nearby = desk.nearby(one)
    return {
        "number": one.pk,
        "url": reverse("clearance", args=[one.pk]),
        "holder": str(one.holder),
        "crew": one.crew,
        "phone": one.holder.phone,
        "channel": one.holder.radio,
        "limits": words.limits(one)[0],
        "nearby": f"Energized: {nearby}." if nearby else "",
        "shared": [text for point in points if (text := desk.shared(one.pk, point.device))],
        "points_done": sum(point.blocking == in_order(point.phases) for point in points),
        "points_all": len(points),
        "points": "; ".join(
            f"{point.device} {desk.position(point.device, point.phases, desk.details)}" for point in points
        ),
        "people": len(signed_on(one)),
        "grounds": grounds_on(one),
        "given_at": one.given_at,
        "accepted_at": one.accepted_at if one.state != Clearance.State.GIVEN else None,
        "heard_at": heard,
        "promised_at": one.promised_end,
        "elapsed": round(min(100.0, 100 * gone / whole)) if whole > 0 else 100,
        "late": words.late(one, desk.now),
        "silent": words.span(silent) if silent > SILENT_CREW else "",
        "frozen": one.frozen_why if one.state == Clearance.State.FROZEN else "",
    }


def given(desk: Desk, one: Clearance, step: Step, *, loud: bool) -> Row:
    """A step that is given and not yet reported, for components/given.html."""
    waiting = desk.now - (step.given_at or desk.now)
    device = step.device_id
    report = {"close": "closed", "remove_tag": "untagged"}.get(step.operation, "open")
    call_back = None if step.reported_phases else desk.act("call_step_back", step=step.pk)
    return {
        "order": one.pk,
        "number": step.place,
        "words": words.operation(step),
        "device": device,
        "where": desk.where(device),
        "phases": words.spaced(step.phases),
        "to": step.given_to,
        "phone": desk.phones.get(step.given_to, ""),
        "given_at": step.given_at,
        "repeated": True,  # give_step takes none that is not
        "waiting": words.span(waiting) if waiting > SILENT_STEP else "",
        "progress": words.reported(step),
        "loud": loud,
        "acts": desk.acts(desk.act("report_step", f"Report {device} {report}", step=step.pk), call_back),
    }


def abnormal(desk: Desk, device_id: str) -> Row:
    device = desk.compiled.network.device[device_id]
    tags = desk.tags.get(device_id, [])
    of = list(dict.fromkeys(f"clearance {tag.clearance_id}" for tag in tags))
    beside = desk.beside.notes().get(device_id, [])
    report = desk.act("report_position", device=device_id)
    here = (one.trouble for one in desk.troubles if one.trouble.device_id == device_id)
    trouble = next((f"trouble {one.pk}, {one.cause or 'cause not known'}" for one in here), "")
    url = reverse("clearance", args=[tags[0].clearance_id]) if tags else (report or {}).get("url", "")
    return {
        "device": device_id,
        "url": url,
        "where": desk.where(device_id),
        "position": desk.position(device_id, device.phases, desk.details),
        "why": ", ".join([*of, *beside])
        or desk.orders_at.get(device_id)
        or trouble
        or "no reason on the board",
        "since": desk.since(device_id),
        "tags": [{"number": tag.number, "holder": str(tag.clearance.holder)} for tag in tags],
    }


def customers(desk: Desk) -> Row:
    """Who is without the normal supply now, by the reported positions."""
    answered = AffectedPremises.objects.filter(
        clearance=OuterRef("clearance"), premises=OuterRef("premises"), answered_at__isnull=False
    )
    rows = Interruption.objects.filter(on_at=None).order_by()
    life_support = Q(premises__care="life_support")
    by_work: dict[int | None, tuple[int, int, int]] = {
        number: (n, care, alone)
        for number, n, care, alone in rows.values_list("clearance_id").annotate(
            n=Count("pk"),
            care=Count("pk", filter=life_support),
            alone=Count("pk", filter=Q(life_support, ~Exists(answered))),
        )
    }
    planned = sum(n for number, (n, _, _) in by_work.items() if number)
    unplanned = by_work.get(None, (0, 0, 0))[0]
    care = sum(care for _, care, _ in by_work.values())
    alone = sum(alone for _, _, alone in by_work.values())
    ends = {one.pk: clock(one.promised_end) for one in desk.clearances}
    lines = [
        f"{n} under {number}, promised back by {ends[number]}" if number in ends else f"{n} under {number}"
        for number, (n, _, _) in sorted((number, counts) for number, counts in by_work.items() if number)
    ]
    if unplanned:
        lines += [
            f"{one.out} in trouble {one.trouble.pk}: "
            f"{out.trouble_words(one.trouble, desk.where(one.trouble.device_id))}"
            for one in desk.troubles
        ]
    unknown = sum(state.answer is Answer.BACKFED for state in desk.trace.not_energized().values())
    if unknown:
        lines.append(f"{unknown} of them may be backfed: voltage not known.")
    return {
        "counts": [
            {"n": planned, "words": "planned"},
            {"n": unplanned, "words": "unplanned", "level": "now" if unplanned else ""},
            {
                "n": care,
                "words": f"life-support, {alone} without an answer" if alone else "life-support",
                "level": "now" if alone else "",
            },
        ],
        "lines": lines,
        "all": to_page("Who is out", "out") if planned or unplanned else None,
    }


def upcoming(desk: Desk, one: Clearance) -> Row:
    order = desk.order(one)
    flags = []
    if order is None:
        flags.append("order not written" if one.points.all() else "points not chosen")
    elif order.state != "checked":
        flags.append(f"order {order.state}")
    elif not desk.begun(one) and (moved := moved_since(desk, one)):
        flags.append(f"{', '.join(moved)} does not stand as the order expects")
    if n := desk.untold.get(one.pk):
        flags.append(f"{n} customers not told")
    if n := sum(row.clearance_id == one.pk for row in desk.unanswered):
        flags.append(f"{n} life-support not answered")
    return {
        "at": one.window_start,
        "number": one.pk,
        "url": reverse("clearance", args=[one.pk]),
        "words": f"{one.holder}: {one.work}",
        "customers": desk.affected.get(one.pk, "–"),
        "flags": flags,
    }


def moved_since(desk: Desk, one: Clearance) -> list[str]:
    """The devices of an order not yet begun whose positions no longer match what its first half expects."""
    found = []
    for step in desk.steps(one):
        stands_open = set(desk.open_now.get(step.device_id, "")) & set(step.phases)
        expected = set(step.phases) if step.operation == Step.Operation.CHECK_OPEN else set()
        if step.half == Step.Half.ISOLATE and stands_open != expected:
            found.append(step.device_id)
    return list(dict.fromkeys(found))


def back_today(one: Clearance) -> Row:
    people, sets = list(one.sign_ons.all()), list(one.ground_sets.all())
    off = sum(row.off_at is not None for row in people)
    sets_off = sum(row.off_at is not None for row in sets)
    return {
        "number": one.pk,
        "url": reverse("clearance", args=[one.pk]),
        "words": (
            f"{one.holder}, {clock(one.given_at)} to {clock(one.released_at)}. "
            f"People {off} of {len(people)} off, ground sets {sets_off} of {len(sets)} off."
        ),
    }


def day(desk: Desk) -> Row:
    """Today's work against the clock, for components/day.html."""
    midnight = desk.midnight
    lanes = defaultdict(list)
    for one in desk.clearances:
        for start, end, kind in bars(desk, one):
            if start < midnight + timedelta(days=1) and end > midnight:
                lanes[one].append((max(start, midnight), end, kind))
    times = [desk.now, *(at for found in lanes.values() for start, end, _ in found for at in (start, end))]
    first = min(DAY[0], *(int((at - midnight) / timedelta(hours=1)) for at in times))
    last = min(24, max(DAY[1], *(int((at - midnight) / timedelta(hours=1)) + 1 for at in times)))

    def x(at: datetime) -> float:
        hours = (at - midnight) / timedelta(hours=1)
        return round(100 * min(max(0.0, (hours - first) / (last - first)), 1.0), 2)

    return {
        "hours": [
            {"label": f"{hour}:00", "x": x(midnight + timedelta(hours=hour))}
            for hour in range(first + first % 2, last, 2)
        ],
        "now_x": x(desk.now),
        "lanes": [
            {
                "number": one.pk,
                "url": reverse("clearance", args=[one.pk]),
                "words": f"{one.holder}, {one.work}",
                "until": until(desk, one),
                "kind": "begun"
                if desk.begun(one) and one.state == Clearance.State.ASKED
                else {"asked": "plan", "released": "back"}.get(one.state, "out"),
                "bars": [
                    {"x": x(start), "w": round(x(end) - x(start), 2), "kind": kind}
                    for start, end, kind in found
                ],
            }
            for one, found in lanes.items()
        ],
    }


def bars(desk: Desk, one: Clearance) -> list[tuple[datetime, datetime, str]]:
    """What a clearance was or is to be, from when to when: asked for, out, past its promise, or back."""
    if one.state == Clearance.State.ASKED:
        return [(one.window_start, one.promised_end, "plan")]
    if one.given_at is None or one.state == Clearance.State.WITHDRAWN:
        return []
    if one.released_at:
        return [(one.given_at, one.released_at, "back")]
    found = [(one.given_at, min(desk.now, one.promised_end), "out")]
    rest = (
        (desk.now, one.promised_end, "plan")
        if desk.now < one.promised_end
        else (one.promised_end, desk.now, "late")
    )
    return [*found, rest] if found[0][1] > one.given_at else [rest]


def until(desk: Desk, one: Clearance) -> str:
    if one.state == Clearance.State.ASKED:
        return words.window(one.window_start, one.promised_end)
    if one.released_at:
        return f"released {clock(one.released_at)}"
    late = words.late(one, desk.now)
    return f"{late} {clock(one.promised_end)}" if late else f"by {clock(one.promised_end)}"
