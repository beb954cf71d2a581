"""The pages. Each view reads once, through the module of its page, and writes nothing."""

from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.contrib.auth.views import LoginView
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from .. import demo
from ..models import Clearance, HotLineHold, Person
from ..rooms import may_see_sheet, page, person_of, room_of
from ..signing_in import WAIT
from . import board as board_page
from . import changes as changes_page
from . import clearance as clearance_page
from . import field as field_page
from . import out as out_page
from . import papers
from . import people as people_page
from . import plans as plans_page
from . import proof as proof_page
from . import rehearsal as rehearsal_page
from . import service as service_page
from . import sheet as sheet_page
from .papers import PAPERS, head_css


class SignInForm(AuthenticationForm):
    """Who are you, in the words of the sign-in page."""

    username = UsernameField(label="Log-in name", widget=forms.TextInput(attrs={"autofocus": True}))
    error_messages = AuthenticationForm.error_messages | {
        "invalid_login": (
            f"No log-in has this name and this password. Small and capital letters differ. {WAIT}"
        ),
    }


@method_decorator(require_http_methods(["GET", "POST"]), name="dispatch")
class SignIn(LoginView):
    """GET and POST /sign-in. A demo says which log-ins it has."""

    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        logins = demo.logins() if settings.DEMO is not None else []
        return super().get_context_data(demo_logins=logins, **kwargs)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """POST /sign-out."""
    logout(request)
    return redirect("sign_in")


@require_GET
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """GET /: on to the room of whoever asks."""
    room = room_of(person_of(request))
    if not room:
        words = "The administrator gives people their roles; until then no page is yours."
        context = {"title": "You have no role on this board yet", "words": words}
        return render(request, "nothing.html", context, status=403)
    return redirect({"desk": "board", "field": "field", "service": "service"}[room])


@require_GET
@page("board")
def board(request: HttpRequest) -> HttpResponse:
    """GET /desk/: the desk's first screen."""
    return render(request, "desk/board.html", board_page.context(person_of(request), request.path))


@require_GET
@page("board")
def out(request: HttpRequest) -> HttpResponse:
    """GET /desk/out/: customers out now, planned and unplanned apart."""
    return render(request, "desk/out.html", out_page.context(person_of(request), request.path))


@require_GET
@page("clearance")
def clearance(request: HttpRequest, number: int) -> HttpResponse:
    """GET /desk/clearances/<number>/: one clearance; a plan until the first step of its order is given."""
    context = clearance_page.context(person_of(request), request.path, number)
    return render(request, "desk/clearance.html", context)


@require_GET
@page("clearance")
def plans(request: HttpRequest, number: int) -> HttpResponse:
    """GET /desk/clearances/<number>/plans/: the best few ways to part the limits of one that is asked for."""
    context = plans_page.context(person_of(request), request.path, number)
    return render(request, "desk/plans.html", context)


@require_GET
@page("clearance")
def rehearsal(request: HttpRequest, number: int) -> HttpResponse:
    """GET /desk/clearances/<number>/rehearsal/?at=: the orders of its job played over the one-line."""
    at = request.GET.get("at", "0")
    if not at.isascii() or not at.isdigit() or len(at) > len("9999"):
        raise Http404("A rehearsal has its states by number.")
    return render(request, "desk/rehearsal.html", rehearsal_page.context(number, int(at)))


@require_GET
@page("clearance")
def slips(request: HttpRequest, number: int) -> HttpResponse:
    """GET /desk/clearances/<number>/rehearsal/slips/: what comes of single slips, a part of the above or
    alone."""
    part = getattr(request, "htmx", False)
    return render(request, f"desk/slips{'' if part else '_whole'}.html", rehearsal_page.worst(number))


@require_GET
@page("clearance")
def paper(request: HttpRequest, number: int, name: str) -> HttpResponse:
    """GET /desk/clearances/<number>/<order | sheet | tags>/: the same on paper."""
    row = Clearance.objects.select_related("job", "holder", "alternate", "order").filter(pk=number).first()
    if row is None or name not in {*PAPERS, "proof"}:
        raise Http404(f"There is no paper «{name}» of work clearance {number}.")
    if name == "proof":
        shown = proof_page.context(person_of(request), request.path, number)
        return render(request, "print/proof.html", papers.head(row, "Proof") | shown)
    return render(request, f"print/{name}.html", PAPERS[name](row))


@require_GET
@page("clearance")
def hold_tag(request: HttpRequest, hold: int) -> HttpResponse:
    """GET /desk/holds/<hold>/tag/: the tag of a hot-line hold, to be printed."""
    row = HotLineHold.objects.select_related("holder", "device__structure").filter(pk=hold).first()
    if row is None:
        raise Http404(f"There is no hot-line hold {hold}.")
    return render(request, "print/hold_tag.html", papers.hold_tag(row))


@require_GET
@page("clearance")
def paper_head(request: HttpRequest, number: int, name: str) -> HttpResponse:
    """GET .../head.css?words=: what stands at the top of every page of a paper."""
    return HttpResponse(head_css(request.GET.get("words", "")[:200]), content_type="text/css; charset=utf-8")


@require_GET
@page("field")
def field(request: HttpRequest) -> HttpResponse:
    """GET /field/: a foreman's or crew member's own work."""
    return render(request, "field/home.html", field_page.context(person_of(request), request.path))


def _on_it(request: HttpRequest, number: int) -> Person:
    """Whoever asks, if this clearance is theirs to see."""
    person = person_of(request)
    if not may_see_sheet(person, number):
        raise PermissionDenied(f"Work clearance {number} is another crew's: you are not on it.")
    return person


@require_GET
@page("sheet")
def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """GET /field/clearances/<number>/: a clearance's sheet, for those who are on it and for the desk."""
    person = _on_it(request, number)
    return render(request, "field/clearance.html", sheet_page.context(person, request.path, number))


@require_GET
@page("sheet")
def proof(request: HttpRequest, number: int) -> HttpResponse:
    """GET /clearances/<number>/proof/: what could feed the limits and what keeps it out."""
    person = _on_it(request, number)
    return render(request, "proof.html", proof_page.context(person, request.path, number))


@require_GET
@page("service")
def service(request: HttpRequest) -> HttpResponse:
    """GET /service/?q=&premises=: what to tell a caller."""
    query = request.GET.get("q", "").strip()[: service_page.LONGEST_QUERY]
    premises = request.GET.get("premises", "")
    return render(request, "service/find.html", service_page.context(person_of(request), query, premises))


@require_GET
@page("changes")
def changes(request: HttpRequest) -> HttpResponse:
    """GET /desk/changes/: what jobs change on the network, from the plan until it is surveyed."""
    return render(request, "desk/changes.html", changes_page.context(person_of(request), request.path))


@require_GET
@page("people")
def people(request: HttpRequest) -> HttpResponse:
    """GET /desk/people/: who signs in, and with which roles."""
    return render(request, "desk/people.html", people_page.context(request.path))
