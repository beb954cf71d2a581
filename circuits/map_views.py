"""The map: its page, where the network lies, and how it stands."""

import functools
import hashlib
import json

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import get_conditional_response
from django.views.decorators.gzip import gzip_page

from circuits import geography, positions, snapshot, upward
from circuits.core.network import Compiled
from circuits.core.trace import trace
from circuits.oneline.shapes import STYLES
from circuits.oneline.words import Words
from circuits.views import abnormal, looking


@looking
def page(request: HttpRequest) -> HttpResponse:
    """GET /desk/map/: the map, and in words what on the network is out of the ordinary."""
    compiled, marks = snapshot.compiled(), upward.marks()
    state = trace(compiled, positions.open_phases())
    answers = geography.answers_of(compiled, state)
    sections = geography.sections_of_circuits(compiled)
    context = {
        "room": "desk",
        "missing": geography.lie(compiled)["missing"],
        "legend": [(style, str(answer)) for answer, style in STYLES.items()],
        "circuits": [
            (one, sorted({answers[section] for section in sections[one.id]}, key=geography.ANSWERS.index))
            for one in compiled.network.circuits
        ],
        "abnormal": abnormal(Words(compiled, state, marks.tags, marks.notes)),
        "bands": [band.words for band in marks.bands],
    }
    return render(request, "circuits/map.html", context)


@gzip_page
@looking
def lie(request: HttpRequest) -> HttpResponse:
    """GET /desk/map/network/: where the network lies, `geography.lie`. A browser may keep it, if it asks each
    time whether it is still so."""
    etag, body = _lie(snapshot.compiled())
    return get_conditional_response(request, etag) or _answer(etag, body, "private, no-cache")


@gzip_page
@looking
def stand(request: HttpRequest) -> HttpResponse:
    """GET /desk/map/state/: how it stands, `geography.stand`. What it is made from is its ETag, so that a map
    that asks again for what it has costs no trace."""
    compiled, marks, opened = snapshot.compiled(), upward.marks(), positions.open_phases()
    etag = _etag(repr((compiled.network.revision, sorted(opened.items()), marks)).encode())
    if known := get_conditional_response(request, etag):
        return known
    state = geography.stand(compiled, trace(compiled, opened), opened, marks.tags, marks.bands, marks.notes)
    return _answer(etag, json.dumps(state).encode(), "no-store")


@functools.lru_cache(maxsize=1)
def _lie(compiled: Compiled) -> tuple[str, bytes]:
    body = json.dumps(geography.lie(compiled), separators=(",", ":")).encode()
    return _etag(body), body


def _etag(made_from: bytes) -> str:
    return f'"{hashlib.sha256(made_from).hexdigest()}"'


def _answer(etag: str, body: bytes, keep: str) -> HttpResponse:
    headers = {"ETag": etag, "Cache-Control": keep}
    return HttpResponse(body, content_type="application/json", headers=headers)
