"""The one view of all acts."""

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.encoding import iri_to_uri
from django.views.decorators.http import require_http_methods

from .acts import ACTS, allowed
from .clause_set import named
from .models import Person, Role
from .rooms import room_of
from .rules.refusal import Refusal
from .services import VERBS
from .services.verb import Done, Refused


@require_http_methods(["GET", "POST"])
@login_required
def act(request: HttpRequest, name: str) -> HttpResponse:
    """GET asks the question, POST does the act: 303 when it is done, 422 with the reasons and all that was
    typed when it is not.

    With htmx the same form is answered as a part of the page that holds it.
    """
    kind = ACTS.get(name)
    if kind is None:
        raise Http404(f"There is no act «{name}».")
    person = cast(Person, request.user)
    if not allowed(person, name):
        raise PermissionDenied(
            f"{person} may not do «{kind.label}»: it belongs to a "
            f"{' or '.join(Role(role).label for role in VERBS[name].roles)}."
        )
    this = kind(request)
    if this.is_anothers():
        raise PermissionDenied(this.belongs_to())
    form = kind.form(request.POST or None, act=this, initial=this.initial())
    refusals: tuple[Refusal, ...] = ()
    stale = ""
    if request.method == "POST" and form.is_valid():
        outcome = VERBS[name].run(this.who(form.cleaned_data), **this.kwargs(form.cleaned_data))
        if isinstance(outcome, Done):
            messages.success(request, outcome.entry.words, extra_tags=str(form.cleaned_data["key"]))
            return _away(request, this.back())
        if isinstance(outcome, Refused):
            refusals = outcome.refusals
        else:
            stale = outcome.sentence
    context = {
        "verb": {"name": name, "title": this.title(), "button": this.press, "danger": kind.danger},
        "about": this.about(),
        "sentence": this.sentence,
        "form": form,
        "refusals": [_shown(refusal) for refusal in named(refusals)],
        "stale": stale,
        "action": request.get_full_path(),
        "back": this.back(),
        "room": room_of(person),
    }
    inline = bool(request.headers.get("HX-Request"))
    status = 422 if request.method == "POST" else 200
    return render(request, "components/act.html" if inline else "do.html", context, status=status)


def _shown(refusal: Refusal) -> dict[str, str]:
    return {
        "text": refusal.text,
        "clause": refusal.clause.number,
        "mark": refusal.clause.mark,
        "way_past": refusal.way_past,
    }


def _away(request: HttpRequest, to: str) -> HttpResponse:
    to = iri_to_uri(to)  # a header takes neither line ends nor letters beyond ASCII
    if request.headers.get("HX-Request"):
        return HttpResponse(status=204, headers={"HX-Redirect": to})
    response = HttpResponseRedirect(to)
    response.status_code = 303
    return response
