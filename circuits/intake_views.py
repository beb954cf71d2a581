"""The pages on which a network engineer hands in a network package and decides on it."""

import functools
import io
from collections.abc import Callable
from typing import Concatenate, ParamSpec

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from circuits import importer, intake, packagefile, upward
from circuits.models import HandedIn, NetworkRevision, State
from circuits.package import TABLES

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]

# Rows with faults on a page, revisions on the list.
ROWS = 100
REVISIONS = 10
# Characters of the note beside a revision.
LONGEST = 400


def _engineer(view: View[P]) -> View[P]:
    """For those who are signed in and may change the network."""

    @login_required
    @functools.wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if not upward.may_change(request.user):
            raise PermissionDenied("The network is imported by a network engineer.")
        return view(request, *args, **kwargs)

    return guarded


@require_http_methods(["GET", "POST"])
@_engineer
def packages(request: HttpRequest) -> HttpResponse:
    """GET /desk/packages/: the network in use, what was handed in, and the form to hand in another.

    POST with `files`, one zip file or any number of tables: 302 to its page, or 422 and a sentence.
    """
    refused = ""
    if request.method == "POST":
        try:
            package = intake.hand_in(request.FILES.getlist("files"), request.user)
        except intake.NotTaken as reason:
            refused = str(reason)
        else:
            return redirect("package", package.pk)
    context = {
        "room": "desk",
        "refused": refused,
        "packages": HandedIn.objects.defer("content", "result").select_related("by").order_by("-pk"),
        "revisions": NetworkRevision.objects.order_by("-pk")[:REVISIONS],
        "most": intake.MOST_BYTES // 1_000_000,
    }
    return render(request, "circuits/packages.html", context, status=422 if refused else 200)


@require_http_methods(["GET", "POST"])
@_engineer
def package(request: HttpRequest, package_id: int) -> HttpResponse:
    """GET /desk/packages/<number>/: what was found in a package, or how far its check or import is.

    POST with `decision`: `import`, with the revision `on` which it was checked and a `note`; `again`; `back`.
    302, or 409 with the page as it stands when there was nothing to decide any more.
    """
    found = get_object_or_404(
        HandedIn.objects.defer("content").select_related("by", "revision"), pk=package_id
    )
    if request.method == "GET":
        return _shown(request, found)
    decision = request.POST.get("decision")
    if decision == "back" and intake.take_back(package_id):
        messages.success(request, f"{found.name} is taken back; the network was not changed.")
        return redirect("packages")
    on = request.POST.get("on", "")
    note = packagefile.legible(request.POST.get("note", "")).strip()[:LONGEST]
    if (decision == "again" and intake.check_again(package_id)) or (
        decision == "import"
        and on.isdecimal()
        and len(on) < 19
        and intake.decide(package_id, on=int(on), note=note)
    ):
        return redirect("package", package_id)
    found.refresh_from_db()
    return _shown(request, found, "That could not be done: the package stands otherwise by now. Look again.")


def _shown(request: HttpRequest, found: HandedIn, refused: str = "") -> HttpResponse:
    rows = found.result.get("rows", [])
    context = {
        "room": "desk",
        "package": found,
        "result": found.result,
        "page": Paginator(rows, ROWS).get_page(request.GET.get("page")),
        "rows_in_all": len(rows),
        "at_work": found.state in (State.WAITING, State.WANTED),
        "refused": refused,
    }
    return render(request, "circuits/package.html", context, status=409 if refused else 200)


@require_GET
@_engineer
def schema(request: HttpRequest) -> HttpResponse:
    """GET /desk/packages/datapackage.json: every table of a network package with its Table Schema."""
    name, content = packagefile.described(table.name for table in TABLES)
    return _download(name, content, "application/json")


@require_GET
@_engineer
def export(request: HttpRequest) -> FileResponse:
    """GET /desk/packages/network.zip: the network in use as a package."""
    out = io.BytesIO()
    packagefile.pack(out, importer.export_files())
    out.seek(0)
    return FileResponse(out, as_attachment=True, filename="network.zip")


def _download(name: str, content: bytes, kind: str) -> HttpResponse:
    return HttpResponse(
        content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
