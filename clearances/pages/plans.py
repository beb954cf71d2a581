"""The best few ways to part the limits of a clearance that is asked for, side by side. Nothing here is
ordered: choosing one fills in the points, which somebody then takes."""

import math
from typing import Any

from django.http import QueryDict
from django.urls import reverse

from circuits import isolation, snapshot
from circuits.core.planning.plans import ASSUMPTIONS, Plan, sentences
from circuits.models import Device, Premises
from circuits.whatif import CannotSayError

from .. import facts
from ..acts import allowed
from ..acts.base import clearance_or_404
from ..models import Clearance, Person, SwitchingOrder
from ..services.switching import where
from . import words
from .picture import Row


def context(person: Person, back: str, number: int) -> dict[str, Any]:
    """What templates/desk/plans.html names."""
    row = clearance_or_404(str(number))
    found: dict[str, Any] = {
        "plan": {"for": words.day(row.window_start)},
        "clearance": row,
        "window": words.window(row.window_start, row.promised_end),
        "page": reverse("clearance", args=[number]),
        "assumptions": ASSUMPTIONS,
    }
    if row.state != Clearance.State.ASKED or SwitchingOrder.objects.filter(clearance=row).exists():
        return found | {"cannot": "Its order is written or its work begun: the points of the order stand."}
    try:
        answer = isolation.ask(
            isolation.Asked(nodes=_limits(row)),
            window=(row.window_start, row.promised_end),
            but=row.pk,
            agreed=list(row.dispositions.values_list("source_id", flat=True)),
        )
    except CannotSayError as error:
        return found | {"cannot": str(error)}
    care = [one for plan in answer.plans.plans for one in (*plan.life_support, *plan.critical)]
    address = {one.pk: f"{one.address} {one.unit}".strip() for one in Premises.objects.filter(pk__in=care)}
    named = {point.device.id for plan in answer.plans.plans for point in plan.points}
    devices = Device.objects.select_related("structure").in_bulk(sorted(named))
    places = {name: where(device) for name, device in devices.items()}
    choose = allowed(person, "choose_points")
    return found | {
        "cannot": answer.cannot,
        "plans": [_plan(row, plan, answer, address | places, choose=choose) for plan in answer.plans.plans],
        "told": list(dict.fromkeys([*answer.plans.told, *answer.plans.thrown_away])),
        "kept": [f"{device}: {whose}" for device, whose in sorted(answer.others.kept.items())],
        "computed_from": answer.computed_from,
    }


def _limits(row: Clearance) -> isolation.Limits:
    return tuple(sorted(facts.limits_of(row, snapshot.compiled())))


def _plan(
    row: Clearance, plan: Plan, answer: isolation.Answer, place: dict[str, str], *, choose: bool
) -> Row:
    query = QueryDict(mutable=True)
    query["clearance"] = str(row.pk)
    query.setlist("device", [point.device.id for point in plan.points])
    query.setlist("close", [one.device.id for one in plan.moved if one.closes])
    query.setlist("open", [one.device.id for one in plan.moved if not one.closes])
    return {
        "out": len(plan.out),
        "partly": len(plan.partly),
        "minutes": math.ceil(plan.customer_minutes(answer.minutes or 0.0)),
        "life_support": [place[one] for one in plan.life_support],
        "critical": [place[one] for one in plan.critical],
        "operations": plan.operations,
        "checks": sum(bool(point.check_open) for point in plan.points),
        "no_visible_open": plan.without_visible_open,
        "used": [one.words for one in plan.used],
        "points": [{"words": point.words, "where": place[point.device.id]} for point in plan.points],
        "shared": plan.shared,
        "moved": [one.words for one in plan.moved],
        "without_ties": plan.out_without_ties,
        "standing": plan.standing,
        "capacitors": [one for one in sentences(answer.compiled, plan) if one.startswith("Capacitor")],
        "choose": f"{reverse('act', args=['choose_points'])}?{query.urlencode()}" if choose else "",
    }
