"""One clearance on the desk: where it stands, what could feed its limits, both halves of its order, its
people, ground sets, customers and log."""

import datetime
from typing import Any

from django.db.models import Q
from django.urls import reverse

from circuits import positions
from notifications.models import Notice
from notifications.states import State

from .. import asleft, clause_set, network
from ..acts import allowed
from ..acts.changes import plan_links
from ..facts import OVER
from ..models import AffectedPremises, LogEntry, Person, Step, SwitchingOrder
from ..rules.orders import expected_positions
from ..rules.words import step_words
from ..templatetags.board import clock
from . import changes, next_act, words
from .one import One
from .picture import Row

PAPERS = (
    ("order", "Switching order"),
    ("sheet", "Clearance sheet"),
    ("tags", "Device tags"),
    ("proof", "Proof"),
)


def context(person: Person, back: str, number: int) -> dict[str, Any]:
    """What templates/desk/clearance.html names."""
    one = One(person, back, number)
    row = one.clearance
    acts, refusals = next_act.on_the_desk(one)
    return {
        "plan": {"for": words.day(row.window_start)} if one.plan else None,
        "over": row.state in OVER,
        "clearance": _head(one),
        "acts": acts,
        "refusals": clause_set.named(refusals),
        "feeds": one.feeds(),
        "points": one.point_rows(),
        "besides": [f"{pick_up}, at {one.where(pick_up.device_id)}" for pick_up in row.pick_ups.all()],
        "points_done": one.complete,
        "points_all": len(one.standing),
        "halves": _halves(one),
        "customers": _customers(one),
        "people": [
            {"name": signed.name, "on_at": signed.on_at, "off_at": signed.off_at}
            for signed in row.sign_ons.all()
        ],
        "grounds": [
            {
                "name": ground.label,
                "where": ground.pole,
                "phases": words.spaced(ground.phases),
                "on_at": ground.on_at,
                "on_by": ground.on_by,
                "off_at": ground.off_at,
            }
            for ground in row.ground_sets.all()
        ],
        "tests": [
            {
                "at": test.done_at,
                "where": f"{test.pole} {words.spaced(test.phases)}",
                "by": test.said_by,
                "result": test.get_result_display(),
                "proven": "tester proven before and after" if test.tester_proven else "tester NOT proven",
            }
            for test in row.tests.all()
        ],
        "tags": [
            {
                "number": tag.number,
                "device": tag.device_id,
                "where": one.where(tag.device_id),
                "holder": str(row.holder),
                "on_at": tag.hung_at,
                "off_at": tag.off_at,
            }
            for tag in row.tags.all()
        ],
        "oneline": network.drawing([row], one.compiled, one.trace, beside=one.beside, width=900),
        "changes": changes.of_clearance(number, person, back),
        "before": asleft.before(row) if row.state == row.State.ASKED else (),
        "plan_changes": plan_links(number, back) if allowed(person, "plan_change") else [],
        "oneline_title": "As it stands now",
        "log": [_entry(entry) for entry in one.entries],
        "papers": [{"label": label, "url": reverse("paper", args=[number, name])} for name, label in PAPERS],
        "rehearse": reverse("rehearsal", args=[number])
        if any(step.state in (Step.State.WAITING, Step.State.GIVEN) for step in one.steps)
        else "",
    }


def _head(one: One) -> Row:
    row = one.clearance
    inside, outside = words.limits(row)
    return {
        "number": row.pk,
        "purpose": row.work,
        "holder": str(row.holder),
        "alternate": str(row.alternate) if row.alternate else "",
        "crew": row.crew,
        "phone": row.holder.phone,
        "channel": row.holder.radio,
        "state": words.state(row) + _order_state(one),
        "frozen": row.frozen_why if row.state == row.State.FROZEN else "",
        "limits": inside,
        "excluded": outside,
        "nearby": "" if one.plan else one.nearby(row),
        "method": "de-energized and grounded",
        "window": words.window(row.window_start, row.promised_end),
        "promised_at": row.promised_end,
        "recall": row.recall_minutes,
        "asked_by": str(row.job.requested_by),
        "asked_at": row.job.requested_at,
        "late": words.late(row, one.now),
    }


def _order_state(one: One) -> str:
    order = one.order
    if order is None:
        return " No order is written."
    if order.state == "draft":
        return f" Order written {clock(order.written_at)} by {order.written_by}, not checked."
    why = f" {order.paused_why}" if order.paused_why else ""
    checked = f"checked {clock(order.checked_at)} by {order.checked_by}"
    if order.state == "checked":
        return f" Order {checked}."
    return f" Order {order.state}, {checked}.{why}" if order.checked_at else f" Order {order.state}."


def _halves(one: One) -> list[tuple[str, list[Row]]]:
    if one.order is None:
        return [("Isolate", []), ("Restore", [])]
    expected = _expected(one, one.order)
    reports = {
        entry.data["step"]: entry
        for entry in reversed(one.entries)
        if entry.verb == "report_step" and "step" in entry.data
    }
    halves: dict[str, list[Row]] = {"isolate": [], "restore": []}
    for step in one.steps:
        halves[step.half].append(_step(one, step, expected[step.half, step.place], reports.get(step.pk)))
    halves["isolate"].append({"gate": f"Clearance {one.clearance.pk} may be given here"})
    return [("Isolate", halves["isolate"]), ("Restore", halves["restore"])]


def _expected(one: One, order: SwitchingOrder) -> dict[tuple[str, int], tuple[str, str]]:
    """What each step expects follows from how things stood before the first of them; of a way back that was
    written again, from how they stood when it was checked.
    """
    isolate, restore = one.known.half("isolate"), one.known.half("restore")
    now_or_checked = one.open_now if order.checked_at is None else positions.open_phases(at=order.checked_at)
    if order.rewritten_at is None:
        runs = [(isolate + restore, one.open_now if one.plan else now_or_checked)]
    else:
        runs = [(isolate, positions.open_phases(at=order.written_at)), (restore, now_or_checked)]
    return {
        (step.half, step.place): pair
        for steps, before in runs
        for step, pair in zip(steps, expected_positions(steps, before), strict=True)
    }


def _note(one: One, step: Step, shown: str) -> str:
    closing = step.operation == Step.Operation.CLOSE and shown in ("given", "not given")
    left_off = one.beside.reclosing_stays_off(step.device_id) if closing else ""
    return ". ".join(
        part
        for part in (left_off[:1].upper() + left_off[1:], words.reported(step) if shown == "given" else "")
        if part
    )


def _step(one: One, step: Step, expected: tuple[str, str], report: LogEntry | None) -> Row:
    before, after = expected
    shown = {
        Step.State.WAITING: "not given",
        Step.State.GIVEN: "given",
        Step.State.REPORTED: "reported",
        Step.State.LEFT_OUT: "not needed",
    }[Step.State(step.state)]
    times = None
    if step.given_at or report:
        times = {
            "ordered": step.given_at,
            "done": report.done_at if report else None,
            "reported": report.reported_at if report else None,
            "entered": report.entered_at if report else None,
        }
    return {
        "number": step.place,
        "to": step.given_to,
        "device": step.device_id,
        "where": one.where(step.device_id),
        "operation": step_words(
            operation=step.operation,
            device=step.device_id,
            kind=step.device.kind,
            phases=step.phases,
            where=one.where(step.device_id),
            tag=step.tag_number,
        ),
        "before": words.position(step.phases, before),
        "after": words.position(step.phases, after),
        "tag": step.tag_number,
        "state": "irregular" if report and report.irregular else shown,
        "times": times,
        "note": (report.irregular if report else "") or _note(one, step, shown),
        "acts": next_act.on_a_step(one, step),
    }


def _customers(one: One) -> Row:
    row = one.clearance
    affected = list(row.affected.all())
    briefly = sum(each.briefly for each in affected)
    out_now = row.interruptions.filter(on_at=None).count()
    if one.order is None or one.order.state == "draft":
        planned = len(one.planned_out) if one.standing and row.state not in OVER else 0
        ties = " and what picks load up closed" if row.pick_ups.all() else ""
        counts = [{"n": planned, "words": f"would be out with every chosen point open{ties}"}]
    else:
        counts = [
            {"n": len(affected), "words": "counted when the order was checked"},
            *([{"n": briefly, "words": "of them for minutes only"}] if briefly else ()),
            {"n": out_now, "words": "out now"},
            {"n": len(one.life_support), "words": "life-support"},
        ]
    return {
        "counts": counts,
        "stages": _told(one, affected),
        "critical": [_critical(one, each) for each in one.life_support],
    }


def _told(one: One, affected: list[AffectedPremises]) -> list[Row]:
    """The affected by the hour that they were told: how many the notice of it has reached, or a person in its
    place.
    """
    row = one.clearance
    reached = Q(state=State.SENT) | Q(channel="hand") & ~Q(decided_by="")
    notices = Notice.objects.filter(reached, fact__startswith=f"clearance:{row.pk}:planned:")
    sent = {(about, int(fact.rpartition(":")[2])) for about, fact in notices.values_list("about", "fact")}
    hours: dict[datetime.datetime | None, list[AffectedPremises]] = {}
    for each in affected:
        hours.setdefault(each.back_by, []).append(each)
    return [
        {
            "words": "Told another hour since" if any(each.told > 1 for each in some) else "Planned window",
            "n": len(some),
            "window": words.window(row.window_start, hour or row.promised_end),
            "told": (told := sum((each.premises_id, each.told) in sent for each in some)),
            "untold": len(some) - told,
        }
        for hour, some in sorted(hours.items(), key=lambda each: each[0] or row.promised_end)
    ]


def _critical(one: One, row: AffectedPremises) -> Row:
    answered = row.answered_at is not None
    return {
        "where": f"{row.premises.address} {row.premises.unit}".strip(),
        "words": f"{clock(row.answered_at)}, {row.answered_by}: {row.plan}" if answered else "",
        "answered": answered,
        "way": None
        if answered or one.clearance.state in OVER
        else one.act("record_answer", clearance=one.clearance.pk, premises=row.premises_id),
    }


def _entry(entry: LogEntry) -> Row:
    spoken = f", for {entry.speaking_for}" if entry.speaking_for else ""
    by_voice = f", {entry.how}" if entry.how != "board" else ""
    return {
        "at": entry.entered_at,
        "who": f"entry {entry.number}, {entry.by}{spoken}{by_voice}",
        "words": entry.words,
        "times": {
            "ordered": entry.ordered_at,
            "done": entry.done_at,
            "reported": entry.reported_at,
            "entered": entry.entered_at,
        }
        if entry.done_at
        else None,
        "irregular": entry.irregular,
    }
