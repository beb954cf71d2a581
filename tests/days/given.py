"""What may never stand against a step that has just been given."""

import datetime
from collections.abc import Iterable

from django.conf import settings
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.network import Compiled
from circuits.core.standing import without
from circuits.core.trace import Answer, Trace, trace
from circuits.models import PositionReport
from clearances import facts
from clearances.models import (
    ChangeSet,
    Clearance,
    DoNotOperate,
    FieldClearance,
    HotLineHold,
    Step,
    Tag,
)

RANK = list(Answer)  # from energized down to de-energized


def nothing_against(step: Step) -> None:
    """At the moment at which a step was given: nobody else has the device, its hot-line holds stay as they
    are held, nothing unlike is joined and nobody at work is put under voltage.
    """
    device = step.device_id
    assert not FieldClearance.objects.filter(device=device, state="on").exists()
    others = Step.objects.filter(state="given").exclude(pk=step.pk)
    assert not others.filter(device=device).exists()
    assert not others.filter(order=step.order_id).exists()
    compiled, (before, after) = snapshot.compiled(), around(step)
    holds_kept(step, compiled, before, after)
    if step.half == "restore":
        job = Clearance.objects.get(pk=step.order_id).job_id
        changes = ChangeSet.objects.filter(clearance__job=job)
        assert not changes.filter(state="planned").exists()
        assert not changes.exclude(unsettled="").exists()
    if step.operation != "close":
        return
    assert not Tag.objects.filter(device=device, off_at=None).exists()
    assert not DoNotOperate.objects.filter(device=device, state="given").exists()
    assert ties_joined(compiled, after, device) <= ties_joined(compiled, before)
    for row in Clearance.objects.filter(state__in=facts.OUT):
        assert not more(before, after, facts.limits_of(row, compiled)), f"clearance {row.pk} is energized"
    for field in FieldClearance.objects.filter(state="on"):
        assert not more(before, after, here(compiled, field.nodes, field.inside_phases)), field.number


def around(step: Step) -> tuple[Trace, Trace]:
    """How the network stands before and after it is done, with every other close that is ordered done."""
    others = Step.objects.filter(state="given", operation="close").exclude(pk=step.pk)
    stands = without(positions.open_phases(), dict(others.values_list("device_id", "phases")))
    compiled, mine = snapshot.compiled(), {step.device_id: step.phases}
    if step.operation == "close":
        then = without(stands, mine)
    elif step.operation == "remove_tag":
        then = stands
    else:
        then = {**stands, step.device_id: "".join({*stands.get(step.device_id, ""), *step.phases})}
    return trace(compiled, stands), trace(compiled, then)


def here(compiled: Compiled, nodes: Iterable[str], phases: str) -> set[tuple[str, str]]:
    there = compiled.network.node
    return {(node, one) for node in nodes if node in there for one in phases if one in there[node].phases}


def more(before: Trace, after: Trace, inside: Iterable[tuple[str, str]]) -> bool:
    """May more voltage stand on any of these after than before?"""
    return any(RANK.index(after.answer(*at)) < RANK.index(before.answer(*at)) for at in inside)


def holds_kept(step: Step, compiled: Compiled, before: Trace, after: Trace) -> None:
    """A hot-line hold's device is neither opened nor closed past its holder; nor is its line taken dead by an
    opening farther up, or more voltage put on it, without the holder's word of just now.
    """
    lately = timezone.now() - datetime.timedelta(minutes=settings.HOLD_ANSWER_MINUTES)
    for hold in HotLineHold.objects.filter(state__in=["given", "accepted"]):
        inside = here(compiled, hold.nodes, hold.phases)
        at_it = hold.device_id == step.device_id
        loses = more(after, before, inside)
        reached = hold.reports.filter(entered_at__gt=lately).order_by("-pk")
        if step.operation == "open" and (at_it or loses):
            assert reached.filter(said__in=["stands_down", "stays"]).exists(), hold.number
        if step.operation == "close" and (at_it or more(before, after, inside)):
            last = reached.filter(said__in=["yes", "no"]).first()
            assert last, hold.number
            assert last.said == "yes", hold.number
            opened = PositionReport.objects.filter(device__in=[step.device_id, hold.device_id])
            known = opened.filter(position="open").order_by("-entered_at").first()
            assert known is None or last.entered_at > known.entered_at, hold.number


def ties_joined(compiled: Compiled, state: Trace, closing: str = "") -> set[str]:
    """The closed secondary ties that join sides of unlike phases of which one is energized; the one that is
    closed just now always counts.
    """
    open_now = positions.open_phases()
    found = set()
    for tie in compiled.network.devices:
        sides = [compiled.network.node[node] for node in (tie.from_node, tie.to_node)]
        if tie.kind != "secondary_tie" or sides[0].phases == sides[1].phases:
            continue
        live = any(state.answer(side.id, one) is Answer.ENERGIZED for side in sides for one in side.phases)
        if tie.id == closing or (live and set(tie.phases) - set(open_now.get(tie.id, ""))):
            found.add(tie.id)
    return found
