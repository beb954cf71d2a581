"""One clearance on the desk: where it stands, what could feed its limits, both halves of its order, its
people, ground sets, customers and log."""

from typing import Any

from django.db.models import Q
from django.urls import reverse

from circuits import positions
from notifications.models import Notice
from notifications.states import State

from .. import asleft, network
from ..acts import allowed
from ..acts.changes import plan_links
from ..models import AffectedPremises, LogEntry, Person, Step
from ..rules.orders import expected_positions
from ..rules.words import step_words
from ..templatetags.board import clock
from . import changes, next_act, words
from .one import OVER, One
from .picture import Row

PAPERS = (("order", "Switching order"), ("sheet", "Clearance sheet"), ("tags", "Device tags"))


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
        "refusals": refusals,
        "feeds": one.feeds(),
        "points": one.point_rows(),
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
        "changes": changes.of_clearance(number, person, back),
        "before": asleft.before(row) if row.state == row.State.ASKED else (),
        "plan_changes": plan_links(number, back) if allowed(person, "plan_change") else [],
        "oneline": network.drawing([row], one.compiled, one.trace, width=900),
        "oneline_title": "As it stands now",
        "log": [_entry(entry) for entry in one.entries],
        "papers": [{"label": label, "url": reverse("paper", args=[number, name])} for name, label in PAPERS],
    }


def _head(one: One) -> Row:
    row = one.clearance
    inside, outside = words.limits(row)
    return {
        "number": row.pk,
        "purpose": row.job.work,
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
    # What each step expects follows from how things stood before the first of them.
    before = one.open_now if one.plan else positions.open_phases(at=one.order.checked_at)
    expected = dict(
        zip(
            [(step.half, step.place) for step in one.known.half("isolate") + one.known.half("restore")],
            expected_positions(one.known, before),
            strict=True,
        )
    )
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
            tag=step.point.tag_number,
        ),
        "before": words.position(step.phases, before),
        "after": words.position(step.phases, after),
        "tag": step.point.tag_number,
        "state": "irregular" if report and report.irregular else shown,
        "times": times,
        "note": (report.irregular if report else "") or (words.reported(step) if shown == "given" else ""),
        "acts": next_act.on_a_step(one, step),
    }


def _customers(one: One) -> Row:
    row = one.clearance
    affected = list(row.affected.all())
    out_now = row.interruptions.filter(on_at=None).count()
    if one.order is None or one.order.state == "draft":
        planned = len(one.planned_out) if one.standing and row.state not in OVER else 0
        counts = [{"n": planned, "words": "would be out with every chosen point open"}]
    else:
        counts = [
            {"n": len(affected), "words": "counted when the order was checked"},
            {"n": out_now, "words": "out now"},
            {"n": len(one.life_support), "words": "life-support"},
        ]
    return {
        "counts": counts,
        "stages": [_told(one, affected)] if affected else [],
        "critical": [_critical(one, each) for each in one.life_support],
    }


def _told(one: One, affected: list[AffectedPremises]) -> Row:
    """How many of the affected a notice of the present window has reached, or a person in its place."""
    row = one.clearance
    reached = Q(state=State.SENT) | Q(channel="hand") & ~Q(decided_by="")
    of_window = Notice.objects.filter(reached, fact=f"clearance:{row.pk}:planned:{row.telling}")
    sent = of_window.values("about").distinct().count()
    return {
        "words": f"Told {row.telling} times" if row.telling > 1 else "Planned window",
        "n": len(affected),
        "window": words.window(row.window_start, row.promised_end),
        "told": sent,
        "untold": len(affected) - sent,
    }


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
