"""What needs a person at the desk: one sentence and one action each, the urgent ones first.

Quiet until something is wrong: nothing stands here that nobody can do anything about.
"""

from collections.abc import Iterator
from datetime import timedelta

from django.db.models import BigIntegerField, Exists, OuterRef
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

from notifications import selectors

from ..context import heard
from ..facts import UNDER_WAY
from ..models import Clearance, LogEntry, Step
from ..rules.words import letters
from ..templatetags.board import clock
from . import alarms, out, standing, words
from .desk import Desk
from .picture import Row, need, to_page

SILENT_STEP = timedelta(minutes=15)  # common practice
NOT_ACCEPTED = timedelta(minutes=15)
SOON = timedelta(days=1)
SHOWN = 20  # irregular reports on the first screen; the rest is counted


def needs(desk: Desk) -> list[Row]:
    """Everything that waits for somebody, for components/need.html."""
    found = [
        *_on_the_line(desk),
        *(need(*each) for each in standing.needs(desk)),
        *_irregular(desk),
        *out.needs(desk, desk.troubles),
        *_steps(desk),
        *_unanswered(desk),
        *_plans(desk),
        *_flags(desk),
        *_machinery(),
    ]
    return sorted(found, key=lambda need: need["level"] != "now")


def _reach(one: Clearance) -> str:
    return f"{one.holder}, {one.holder.phone}" if one.holder.phone else str(one.holder)


def _step(desk: Desk, step: Step) -> str:
    return f"{words.operation(step)} {step.device_id} {letters(step.phases)} at {desk.where(step.device_id)}"


def _on_the_line(desk: Desk) -> Iterator[Row]:
    yield from alarms.needs(desk)
    asked = {row.clearance_id for row in desk.unanswered_proofs}
    for one in desk.out:
        look = desk.look_at(one.pk)
        for way in desk.broken[one.pk] if one.pk not in asked else ():
            yield need(
                "now", f"A source reaches the limits of {one.pk}:", f"{way}. Call {_reach(one)}.", look
            )
        if one.state == Clearance.State.FROZEN:
            yield need("now", f"{one.pk} is FROZEN.", f"{one.frozen_why} {_reach(one)}.", look)
        if one.state == Clearance.State.GIVEN and one.given_at and desk.now - one.given_at > NOT_ACCEPTED:
            text = (
                f"Given {clock(one.given_at)}, {words.span(desk.now - one.given_at)} ago. Call {_reach(one)}."
            )
            yield need("now", f"{one.pk} is not accepted.", text, look)


def _irregular(desk: Desk) -> Iterator[Row]:
    answers = LogEntry.objects.filter(verb="answer_irregular").annotate(
        answered=Cast(KeyTextTransform("entry", "data"), BigIntegerField())
    )
    open_ones = (
        LogEntry.objects.exclude(irregular="")
        .exclude(Exists(answers.filter(answered=OuterRef("number"))))
        .select_related("by")
        .order_by("number")
    )
    found = list(open_ones[: SHOWN + 1])
    for entry in found[:SHOWN]:
        told = entry.verb == "remark"
        yield need(
            "soon" if told else "now",
            "Somebody asks for a look." if told else f"Entry {entry.number} does not fit.",
            entry.words if told else f"{entry.irregular} {entry.words}",
            desk.act("answer_irregular", entry=entry.number),
            f"{entry.by}, {clock(entry.entered_at)}",
        )
    if len(found) > SHOWN:
        yield need(
            "now", "More reports do not fit.", f"Only the first {SHOWN} are shown; answer them in turn.", None
        )


def _steps(desk: Desk) -> Iterator[Row]:
    for one, step in desk.given:
        waiting = desk.now - (step.given_at or desk.now)
        if waiting > SILENT_STEP:
            phone = desk.phones.get(step.given_to)
            call = f"{step.given_to}, {phone}" if phone else step.given_to
            text = f"{_step(desk, step)} is not reported for {words.span(waiting)}. Call {call}."
            act = desk.act("report_step", "Report it", step=step.pk)
            yield need("now", f"Step {step.place} of order {one.pk}.", text, act or desk.look_at(one.pk))


def _unanswered(desk: Desk) -> Iterator[Row]:
    start = {one.pk: one.window_start for one in desk.asked}
    for row in desk.unanswered:
        level = "now" if start[row.clearance_id] - desk.now < SOON else "soon"
        text = (
            f"{row.premises.address} {row.premises.unit}".strip()
            + f": no person has answered. Work {row.clearance_id} starts {clock(start[row.clearance_id])}; "
            "its first step is held until then."
        )
        act = desk.act("record_answer", clearance=row.clearance_id, premises=row.premises_id)
        yield need(level, "Life-support.", text, act or desk.look_at(row.clearance_id))


def _plans(desk: Desk) -> Iterator[Row]:
    """What each piece of work not yet on the line waits for."""
    for one in desk.clearances:
        order = desk.order(one)
        look = desk.look_at(one.pk)
        if order and order.state == "paused":
            act = desk.act("resume_order", clearance=one.pk)
            yield need("now", f"Order {one.pk} is paused.", order.paused_why, act or look)
        elif one.state == Clearance.State.ASKED:
            level = "now" if one.window_start - desk.now < SOON / 12 else "soon"
            when = f"{one.holder}, from {clock(one.window_start)}: {one.work}."
            if order is None:
                yield need(level, f"Request {one.pk} waits for a plan.", when, look)
            elif order.state == "draft":
                text = f"Written by {order.written_by}; another person checks it. {when}"
                act = (
                    None
                    if order.written_by_id == desk.person.pk
                    else desk.act("check_order", clearance=one.pk)
                )
                yield need(level, f"Order {one.pk} waits for a check.", text, act or look)
            elif n := desk.untold.get(one.pk):
                act = desk.act("tell_customers", clearance=one.pk)
                text = f"{n} customers of {when}"
                yield need(level, f"Customers of {one.pk} are not told.", text, act or look)
            else:
                yield from _next_step(desk, one)
        elif one.state in (Clearance.State.RELEASED, Clearance.State.WITHDRAWN):
            yield from _next_step(desk, one)


def _next_step(desk: Desk, one: Clearance) -> Iterator[Row]:
    """An order whose time has come and that has no step out: the next one waits to be given."""
    order, steps = desk.order(one), desk.steps(one)
    due = one.state != Clearance.State.ASKED or one.window_start < desk.midnight + SOON
    held = any(row.clearance_id == one.pk for row in desk.unanswered)
    if not due or held or order is None or order.state not in UNDER_WAY:
        return
    half = Step.Half.ISOLATE if one.state == Clearance.State.ASKED else Step.Half.RESTORE
    waiting = [step for step in steps if step.half == half and step.state == Step.State.WAITING]
    if any(step.state == Step.State.GIVEN for step in steps):
        return
    if waiting:
        step = waiting[0]
        text = f"{_step(desk, step)}."
        act = desk.act("give_step", f"Give step {step.place}", step=step.pk)
        yield need("soon", f"Step {step.place} of order {one.pk} is next.", text, act or desk.look_at(one.pk))
    elif one.state == Clearance.State.ASKED:
        act = desk.act("give_clearance", clearance=one.pk)
        text = f"Every step is reported. {_reach(one)}, waits for it."
        yield need("soon", f"{one.pk} is next to be given.", text, act or desk.look_at(one.pk))


def _flags(desk: Desk) -> Iterator[Row]:
    for raised in desk.flags:
        flag = raised.flag
        look = desk.look_at(flag.clearance) if flag.clearance else None
        match flag.code:
            case "past_promised_end":
                act = desk.act("move_promised_end", "Move the end", clearance=flag.clearance)
                yield need(flag.level, "Late.", flag.text, act or look)
            case "position_without_reason":
                act = desk.act("report_position", "Report what stands there", device=flag.about)
                yield need(flag.level, "No reason on the board.", flag.text, act)
            case "plan_leaves_source":
                act = desk.act(_way_back(desk, flag.clearance), clearance=flag.clearance)
                yield need(flag.level, "An order no longer holds.", flag.text, act or look)
            case "call_outside" | "connectivity" | "lost_neutral":
                yield need(flag.level, "Calls.", flag.text, None)
            case "limits_fed":
                pass  # said of each clearance that is out, with whom to call
            case "hold_fed_another_way":
                yield need(flag.level, "Reclosing.", flag.text, None)
            case "change_unsettled":
                act = desk.act("settle_change", change_set=flag.about)
                yield need(flag.level, "Built otherwise.", flag.text, act or look)
            case "jumper_overdue":
                yield need(flag.level, "Temporary jumper.", flag.text, look)
            case "order_not_as_left":
                yield need(flag.level, "An order no longer holds.", flag.text, look)
            case "back_early":
                yield need(flag.level, "Earlier than told.", flag.text, look)
            case "tag_without_clearance":
                yield need(flag.level, "Tag left.", flag.text, look)
            case _ if flag.level == "now":
                yield need(flag.level, "Twice at work.", flag.text, look)


def _way_back(desk: Desk, number: int | None) -> str:
    """The act by which an order that no longer holds is planned again."""
    states = {one.pk: order.state for one in desk.clearances if (order := desk.order(one))}
    return "choose_points" if number in states and states[number] == "draft" else "take_check_back"


def _machinery() -> Iterator[Row]:
    notices = to_page("Look at the notices", "notices")
    waiting = selectors.needs_a_person()
    if n := waiting.filter(channel="hand").count():
        text = f"{n} have no e-mail address: they are told at the door or by telephone."
        yield need("soon", "Customers to be told by hand.", text, notices)
    if n := waiting.exclude(channel="hand").count():
        text = f"{n} could not be sent, or nobody knows whether they arrived."
        yield need("now", "Notices need a person.", text, notices)
    for said, late in heard():
        if late:
            text = (
                "Notices may be standing still. Call whoever looks after the board; tell urgent customers "
                "by telephone."
            )
            yield need("now", f"{said[0].upper()}{said[1:]}.", text, notices)
