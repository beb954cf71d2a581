"""The pages of circuits and devices, and of finding them. They read and never write."""

import functools
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from circuits import finding, positions, snapshot, upward, whatif
from circuits.core.trace import trace
from circuits.models import Circuit, Device, PositionReport
from circuits.neighbours import neighbours
from circuits.oneline import OneLine, draw_parts
from circuits.oneline.words import Words

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]

# Reports on the page of a device; the older ones are in the log.
HISTORY = 100


def looking(view: View[P]) -> View[P]:
    """For those who are signed in and may look at the network."""

    @require_GET
    @login_required
    @functools.wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not upward.may_look(request.user):
            raise PermissionDenied("The pages of circuits and devices are not for your role.")
        return view(request, *args, **kwargs)

    return guarded


def abnormal(words: Words, circuit: str = "") -> list[dict[str, Any]]:
    """The devices, of all circuits or of one, that are out of their normal position."""
    return [
        {
            "device": device,
            "where": words.place(device.from_node),
            "position": words.position(device.id) or "closed",
            "tags": words.tags.get(device.id, ()),
            "notes": words.notes.get(device.id, ()),
        }
        for device in sorted(words.network.devices, key=lambda one: one.id)
        if circuit in ("", device.circuit)
        and set(words.open_phases(device.id)) != set(device.phases) - set(device.closed)
    ]


@looking
def circuit(request: HttpRequest, circuit_id: str) -> HttpResponse:
    """GET /desk/circuits/<id>/: what on a circuit is out of its normal position, and its drawing; ?all=1
    draws the quiet laterals too."""
    found = get_object_or_404(Circuit.objects, pk=circuit_id)
    compiled, marks = snapshot.compiled(), upward.marks()
    state = trace(compiled, positions.open_phases())
    words = Words(compiled, state, marks.tags, marks.notes)
    parts = draw_parts(
        compiled=compiled,
        state=state,
        circuit=circuit_id,
        tags=marks.tags,
        bands=marks.bands,
        notes=marks.notes,
    )
    laterals = [part for part in parts if part.words]
    strokes = [stroke for part in parts for stroke in part.oneline.strokes]
    context = {
        "room": "desk",
        "circuit": found,
        "abnormal": abnormal(words, circuit_id),
        "mains": [part for part in parts if not part.words],
        "laterals": laterals,
        "loud": sum(not part.quiet for part in laterals),
        "all": "all" in request.GET,
        "legend": OneLine(0, strokes=strokes).legend,
    }
    return render(request, "circuits/circuit.html", context)


@looking
def device(request: HttpRequest, device_id: str) -> HttpResponse:
    """GET /desk/devices/<id>/: where each phase of a device stands, by whose word and when; what hangs on it,
    what lies next to it, and its history. ?operation=open&phases=A asks what that would do."""
    found = get_object_or_404(Device.ever.select_related("circuit", "structure"), pk=device_id)
    compiled, marks = snapshot.compiled(), upward.marks()
    opened = positions.open_phases()
    details = positions.details([device_id])
    state = trace(compiled, opened)
    words = Words(compiled, state, marks.tags, marks.notes)
    # A device that an import has left out has a history and no place.
    sides = neighbours(compiled, device_id) if device_id in compiled.network.device else []
    context = {
        "room": "desk",
        "device": found,
        "kind": found.kind.replace("_", " "),
        "phases": [
            {
                "phase": phase,
                "position": "open" if phase in opened.get(device_id, "") else "closed",
                "report": details[device_id, phase],
                "sides": [(words.toward(node), state.why(node, phase)) for node, _ in sides],
            }
            for phase in found.phases
        ],
        "tags": upward.tags_on(device_id, request.user),
        "standing": upward.standing_on(device_id),
        "sides": [
            (words.toward(node), [(one, words.of_a_device(one).removeprefix(f"{one} ")) for one in nearest])
            for node, nearest in sides
        ],
        "question": _question(request, found),
        "history": PositionReport.objects.filter(device=found).order_by("-done_at", "-pk")[:HISTORY],
    }
    return render(request, "circuits/device.html", context)


def _question(request: HttpRequest, device: Device) -> dict[str, Any]:
    """What was asked about an operation of the device, and the answer; nothing is recorded of it."""
    operation = request.GET.get("operation", "")
    wanted = request.GET.getlist("phases")
    phases = "".join(phase for phase in device.phases if phase in wanted)
    question: dict[str, Any] = {"operation": operation, "phases": phases if operation else device.phases}
    if operation and not phases:
        question["cannot"] = "Tick at least one phase that the question is about."
    elif operation:
        try:
            question["asked"] = whatif.ask(device=device.pk, phases=phases, operation=operation)
            if operation == "close":
                question["hits"] = upward.hit_by_closing(device.pk, phases)
        except whatif.CannotSayError as error:
            question["cannot"] = str(error)
    return question


@looking
def find(request: HttpRequest) -> HttpResponse:
    """GET /desk/find/?q=: poles, devices, transformers, streets and circuits by number or name."""
    query = request.GET.get("q", "").strip()[: finding.LONGEST]
    compiled, marks = snapshot.compiled(), upward.marks()
    words = Words(compiled, trace(compiled, positions.open_phases()), marks.tags, marks.notes)
    groups = [
        (group, [(thing, words_of(thing, words)) for thing in group.things])
        for group in finding.find(compiled, query)
    ]
    gone = Device.ever.exclude(retired_in=None).filter(pk__iexact=query).first()
    return render(
        request, "circuits/find.html", {"room": "desk", "query": query, "groups": groups, "gone": gone}
    )


def words_of(thing: finding.Thing, words: Words) -> str:
    """What is said of something that was found, after its name."""
    network = words.network
    said: list[str] = []
    match thing.kind:
        case "device":
            said = [words.of_a_device(thing.id).removeprefix(f"{thing.id} "), network.device[thing.id].label]
        case "transformer":
            primary = network.transformer[thing.id].primary_node
            said = [words.of_a_transformer(thing.id, primary).removeprefix(f"{thing.id} ")]
        case "pole":
            said = [network.structure[thing.id].street, ", ".join(thing.here)]
        case "street":
            ends = [network.structure[one].label or one for one in (thing.here[0], thing.here[-1])]
            said = [f"{len(thing.here)} poles and the like, {' to '.join(ends)}"]
    circuit = network.circuit[thing.circuit].name if thing.circuit and thing.kind != "circuit" else ""
    return " · ".join(part.removesuffix(".") for part in (*said, circuit) if part)
