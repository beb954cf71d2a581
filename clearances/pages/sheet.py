"""A clearance's sheet on the phone: what a holder has to know at the pole, in the order of asking there."""

from datetime import timedelta
from typing import Any

from .. import early, facts, network, rollcall, watch
from ..acts import link
from ..acts.switching import TAG_SEEN
from ..facts import OVER
from ..models import Clearance, Person
from ..rules.words import are, in_order, letters
from ..templatetags.board import clock
from . import changes, words
from .field import desk
from .next_act import expected_on_the_line
from .one import One
from .picture import Row

NEXT_WORDS = {
    "report_test": "Test for voltage at the work, every phase. What did you find?",
    "ground_on": "Put the ground sets on, both sides of the work. Which set is on?",
    "sign_on": "Who works under this clearance? Everybody signs on.",
    "ground_off": "When the work is finished: which ground set is off?",
    "sign_off": "All ground sets are off. Who is off the line?",
    "release_clearance": "Everybody and every ground set is off. Release it?",
}


def context(person: Person, back: str, number: int) -> dict[str, Any]:
    """What templates/field/clearance.html names."""
    one = One(person, back, number)
    row = one.clearance
    inside, outside = words.limits(row)
    stands = row.state in facts.OUT
    heard = one.entries[0].entered_at if one.entries else None
    return {
        "clearance": {
            "number": row.pk,
            "holder": str(row.holder),
            "standing": words.STANDING[Clearance.State(row.state)],
            "state": words.short_state(row),
            "caution": caution(one),
            "until": _until(one),
            "limits": inside,
            "excluded": outside,
            "nearby": one.nearby(row),
            "unconfirmed": "",
        },
        "points": one.point_rows(),
        "points_done": one.complete,
        "points_all": len(one.standing),
        "others": _others(one),
        "sources": _sources(one),
        "tests": [
            {
                "at": test.done_at,
                "where": f"{test.pole} {words.spaced(test.phases)}",
                "result": test.get_result_display(),
                "by": test.said_by,
            }
            for test in row.tests.all()
        ],
        "grounds": [
            {
                "name": ground.label,
                "where": f"{ground.pole} {words.spaced(ground.phases)}",
                "size": "",
                "on_at": ground.on_at,
                "off_at": ground.off_at,
            }
            for ground in row.ground_sets.all()
        ],
        "grounds_needed": "",
        "changes": changes.of_clearance(number, person, back),
        "people_on": sum(signed.off_at is None for signed in row.sign_ons.all()),
        "people": [
            {"name": signed.name, "on_at": signed.on_at, "off_at": signed.off_at}
            for signed in row.sign_ons.all()
        ],
        "sore": _sore(one),
        "next": _next(one),
        "voltage": link("report_test", "VOLTAGE PRESENT", clearance=row.pk, result="present", back=back)
        if stands and one.act("report_test")
        else None,
        "desk": desk(),
        "heard_at": heard,
        "oneline": network.drawing([row], one.compiled, one.trace, beside=one.beside, width=350),
        "oneline_title": "Your limits, pole by pole",
        "oneline_plain": True,
        "acts": _rest(one),
    }


def caution(one: One) -> str:
    """What the line must still be taken for. Nothing on the board makes it anything else."""
    row = one.clearance
    if row.state == Clearance.State.FROZEN:
        return f"Not valid to work. Everybody off, treat it as energized. {row.frozen_why}"
    if row.state != Clearance.State.ACCEPTED:
        return "No work under it. Treat the line as energized."
    if one.live:
        return "A source reaches your limits. Everybody off, treat it as energized, call the desk."
    if not one.tested:
        return "Treat it as energized until you have tested it and put the ground sets on."
    last = {test.pole: test for test in one.tested}
    at = "; at ".join(
        f"{pole}, {letters(facts.phases_of(each for each in one.tested if each.pole == pole))}, "
        f"{clock(test.done_at)}"
        for pole, test in last.items()
    )
    tested = f"Reported tested at {at}"
    if one.untested:
        words_of = are(one.untested)
        return f"{tested}. {words_of[0].upper()}{words_of[1:]} not reported tested: treat it as energized."
    on = [ground for ground in row.ground_sets.all() if ground.off_at is None]
    if not on:
        return f"{tested}. No ground set is on: treat it as energized."
    sets = ", ".join(f"{ground.label} at {ground.pole}" for ground in on)
    return f"{tested}; reported grounded: {sets}. Treat all else as energized."


def _until(one: One) -> str:
    row = one.clearance
    if row.state in OVER:
        return ""
    left = row.promised_end - one.now
    time = f"{words.span(left)} left" if left > timedelta(0) else f"{words.span(-left)} past"
    if row.state == Clearance.State.ASKED:
        return f"Asked for {words.window(row.window_start, row.promised_end)}."
    return f"Promised end {clock(row.promised_end)}, {time}. Recall time {row.recall_minutes} min."


def _others(one: One) -> list[Row]:
    """Whoever else is out on the same devices or at the same poles."""
    row = one.clearance
    mine = {point.device for point in one.standing}
    inside = facts.limits_of(row, one.compiled)
    poles = {one.compiled.network.pole(node) for node, _ in inside} - {""}
    found = []
    others = (
        Clearance.objects.filter(state__in=facts.OUT)
        .exclude(pk=row.pk)
        .select_related("holder")
        .prefetch_related("limits", "points")
    )
    for other in others:
        devices = sorted(mine & {point.device_id for point in other.points.all()})
        at = {one.compiled.network.pole(node) for node, _ in facts.limits_of(other, one.compiled)}
        shared = [*devices, *sorted(poles & at)]
        if shared:
            text = f"work clearance {other.pk}, also on {', '.join(shared)}. {words.limits(other)[0]}"
            found.append({"name": str(other.holder), "words": text, "phone": other.holder.phone})
    for meets in one.beside.meeting(mine, {node for node, _ in inside}):
        found.append({"name": meets.name, "words": f"{meets.words}.", "phone": meets.phone})
    return found


def _sources(one: One) -> list[str]:
    """The possible sources that the crew is warned of: ways that are left, and what no device parts."""
    feeds = one.feeds()
    left = [f"NOT BLOCKED: {way}" for way in feeds["live"]]
    told = [f"{source['words']}: {source['disposition']}" for source in feeds["told"]]
    network = one.compiled.network
    # What a machine at a customer's is parted by, on its own side.
    machines = {
        f"{one.source(path.source_id)}: parted from you by {path.devices[0]} only": None
        for path in facts.every_way(one.compiled, {}, facts.limits_of(one.clearance, one.compiled))
        if not network.source[path.source_id].is_station and path.devices and path.devices[0] in one.chosen
    }
    return [*left, *told, *machines]


def _sore(one: One) -> list[str]:
    out = []
    affected = one.clearance.affected.all()
    machines = early.machines(row.premises_id for row in affected)
    for row in affected:
        if row.premises_id in machines:
            until = f", told off until {clock(row.back_by)}" if row.back_by else ""
            machine = machines[row.premises_id]
            out.append(f"{machine[0].upper()}{machine[1:]}{until}")
        if row.care == "none":
            continue
        kind = "Life-support" if row.care == "life_support" else "Critical"
        plan = f": {row.plan}" if row.plan else ""
        name = f" ({row.premises.name})" if row.care == "critical" and row.premises.name else ""
        out.append(f"{kind} at {row.premises.address} {row.premises.unit}".strip() + f"{name}{plan}")
    return out


def _next(one: One) -> Row | None:
    """The one question that the desk expects an answer to now."""
    row = one.clearance
    holds = row.holder_id == one.person.pk
    if row.state in facts.OUT and (breaks := watch.waiting(row)):
        phases = are(in_order({over.rpartition(" ")[2] for each in breaks for over in each.over}))
        open_yet = any(each.gone_at is None for each in breaks)
        broken = (
            f"is broken: {phases} fed" if open_yet else "was broken for a while, and is blocked as reported"
        )
        question = f"Your protection {broken}. Everybody off the line. Is everybody off?"
        answer = one.act("answer_broken_proof", "Answer the desk", broken_proof=breaks[0].pk)
        return {"words": question, "acts": one.acts(answer) if holds else []}
    if (calls := rollcall.asked_of(row)) and holds:
        asked = [one.act("answer_roll_call", "Answer", call=call.pk) for call in calls]
        question = f"The desk calls the roll. {calls[0].why} Is everybody clear of it?"
        return {"words": question, "acts": one.acts(*asked)}
    if row.state == Clearance.State.ASKED:
        told = (
            f"{one.complete} of {len(one.standing)} points are reported"
            if one.standing
            else "It is being planned"
        )
        return {"words": f"Wait for the desk to give it. {told}.", "acts": []}
    if row.state == Clearance.State.GIVEN:
        if not holds:
            return {"words": f"{row.holder} reads it back and accepts it.", "acts": []}
        acts = one.acts(one.act("accept_clearance", "Read back and accept", clearance=row.pk))
        return {"words": "Read the limits and every point back. Do you accept?", "acts": acts}
    if row.state == Clearance.State.FROZEN:
        acts = one.acts(one.act("report_test", "No voltage found", clearance=row.pk, result="none"))
        return {
            "words": "Everybody off the line. Call the desk, find the source, then test again.",
            "acts": acts,
        }
    if row.state in OVER:
        return None
    name = expected_on_the_line(one)
    if name == "release_clearance" and not holds:
        return {"words": f"{row.holder} releases it.", "acts": []}
    label = "No voltage found" if name == "report_test" else ""
    params = {"result": "none"} if name == "report_test" else {}
    return {
        "words": NEXT_WORDS[name],
        "acts": one.acts(one.act(name, label, clearance=row.pk, **params)),
    }


def _rest(one: One) -> list[Row]:
    """The other acts of a sheet."""
    row, state = one.clearance, Clearance.State(one.clearance.state)
    holds = row.holder_id == one.person.pk
    on_the_line = {
        Clearance.State.ACCEPTED: ["sign_on", "sign_off", "ground_on", "ground_off", "report_test"],
        Clearance.State.FROZEN: ["sign_off", "ground_off", "report_test"],
    }.get(state, [])
    if holds and any(ground.off_at is None for ground in row.ground_sets.all()):
        on_the_line.append("ground_never_on")
    of_the_clearance = (
        ["move_promised_end", "ask_for_next_stage"]
        if state in (Clearance.State.ASKED, Clearance.State.ACCEPTED)
        else []
    )
    working = state == Clearance.State.ACCEPTED and expected_on_the_line(one) != "release_clearance"
    if holds and (working or state == Clearance.State.FROZEN):
        of_the_clearance.append("release_clearance")
    return one.groups(
        {
            "On the line": [one.act(name, clearance=row.pk) for name in on_the_line],
            "This clearance": [one.act(name, clearance=row.pk) for name in of_the_clearance],
            "Report": (
                one.act("report_position"),
                one.act("report_position", TAG_SEEN, tag="1"),
                one.act("remark", clearance=row.pk),
            ),
        }
    )
