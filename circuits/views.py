"""The pages of a circuit and of a device. They read and never write."""

import functools
from collections.abc import Callable
from typing import Concatenate, ParamSpec

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from circuits import positions, snapshot, upward
from circuits.core.trace import trace
from circuits.models import Circuit, Device, PositionReport
from circuits.oneline import draw
from circuits.oneline.words import Words

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]

# Reports on the page of a device; the older ones are in the log.
HISTORY = 100


def _looking(view: View[P]) -> View[P]:
    """For those who are signed in and may look at the network."""

    @require_GET
    @login_required
    @functools.wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not upward.may_look(request.user):
            raise PermissionDenied("The pages of circuits and devices are not for your role.")
        return view(request, *args, **kwargs)

    return guarded


@_looking
def circuit(request: HttpRequest, circuit_id: str) -> HttpResponse:
    """GET /desk/circuits/<id>/: the drawing of a circuit, and what on it is out of its normal position."""
    found = get_object_or_404(Circuit.objects, pk=circuit_id)
    compiled, marks = snapshot.compiled(), upward.marks()
    state = trace(compiled, positions.open_phases())
    words = Words(compiled, state, marks.tags)
    devices = Device.objects.filter(circuit=found)
    moved = positions.out_of_normal(devices.values_list("pk", flat=True))
    abnormal = [
        {
            "device": device,
            "where": words.place(device.from_node_id),
            "position": words.position(device.pk) or "closed",
            "tags": marks.tags.get(device.pk, ()),
        }
        for device in devices.filter(pk__in=moved).order_by("pk")
    ]
    oneline = draw(compiled=compiled, state=state, around=circuit_id, tags=marks.tags, bands=marks.bands)
    context = {"room": "desk", "circuit": found, "oneline": oneline, "abnormal": abnormal}
    return render(request, "circuits/circuit.html", context)


@_looking
def device(request: HttpRequest, device_id: str) -> HttpResponse:
    """GET /desk/devices/<id>/: where each phase of a device stands, by whose word and when; and its
    history."""
    found = get_object_or_404(Device.ever.select_related("circuit", "structure"), pk=device_id)
    compiled, marks = snapshot.compiled(), upward.marks()
    opened = positions.open_phases()
    details = positions.details([device_id])
    state = trace(compiled, opened)
    words = Words(compiled, state, marks.tags)
    # A device that an import has left out has a history and no place.
    nodes = (found.from_node_id, found.to_node_id) if device_id in compiled.network.device else ()
    context = {
        "room": "desk",
        "device": found,
        "kind": found.kind.replace("_", " "),
        "phases": [
            {
                "phase": phase,
                "position": "open" if phase in opened.get(device_id, "") else "closed",
                "report": details[device_id, phase],
                "sides": [(words.toward(node), state.why(node, phase)) for node in nodes],
            }
            for phase in found.phases
        ],
        "tags": marks.tags.get(device_id, ()),
        "history": PositionReport.objects.filter(device=found).order_by("-done_at", "-pk")[:HISTORY],
    }
    return render(request, "circuits/device.html", context)
