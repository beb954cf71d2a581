"""The desk's page of notices: what needs a person, and what is still on its way."""

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from notifications import outbox, selectors
from notifications.models import Notice
from notifications.states import WORDS, State

MAY_READ = ("operator", "checker", "service")
MAY_DECIDE = ("operator",)
MAY_TELL = ("operator", "service")
# Characters of the words beside a decision.
LONGEST = 400
# More rows than a person reads at a sitting; the counts above them are of all.
SHOWN = 200

DECISIONS: dict[str, tuple[Callable[[int, str], bool], str]] = {
    "send_again": (outbox.send_again, "It will be sent again."),
    "mark_sent": (outbox.mark_sent, "It counts as sent."),
    "give_up": (outbox.give_up, "It will not be sent again. Tell the customer in another way."),
}


@require_GET
@login_required
def page(request: HttpRequest) -> HttpResponse:
    """GET /desk/notices/: counts by state, then failed and unconfirmed notices, then those on their way."""
    if not has_role(request, MAY_READ):
        raise PermissionDenied("The notices are for the operations desk and for customer service.")
    return render(request, "desk/notices.html", _context(request))


@require_POST
@login_required
def decide(request: HttpRequest, notice_id: int) -> HttpResponse:
    """POST /desk/notices/<id>/ with `decision`: what the operator decides about a notice that needs a person.

    `attend` also takes `how`, in words. Answers 409 with the page as it stands when nothing was left to
    decide, 404 when there is no such notice, and 422 when the decision is not one of those offered or says
    nothing; each leaves all as it was.
    """
    if not has_role(request, MAY_DECIDE):
        raise PermissionDenied("What becomes of a notice is decided by a system operator.")
    decision, how = request.POST.get("decision", ""), _how(request)
    by = str(request.user)
    if decision == "attend" and how:
        decided, outcome = outbox.attend(notice_id, by, how), "Noted."
    elif decision in DECISIONS:
        act, outcome = DECISIONS[decision]
        decided = act(notice_id, by)
    else:
        missing = "Say how the customer was told, or why nobody needs to be told."
        unknown = "Press one of the buttons beside the notice."
        return _refused(request, 422, missing if decision == "attend" else unknown)
    if not decided:
        notice = Notice.objects.filter(id=notice_id).first()
        if notice is None:
            return _refused(request, 404, f"There is no notice {notice_id}. Nothing was changed.")
        decided_by = f", decided by {notice.decided_by}" if notice.decided_by else ""
        already = (
            f"Notice {notice_id} is already {WORDS[State(notice.state)]}{decided_by}. Nothing was changed."
        )
        return _refused(request, 409, already)
    messages.success(request, f"Notice {notice_id}: {outcome}")
    return redirect("notices")


@require_POST
@login_required
def told(request: HttpRequest) -> HttpResponse:
    """POST /desk/notices/told/ with any number of `notice` and `how`: these were told by hand."""
    if not has_role(request, MAY_TELL):
        raise PermissionDenied("Who was told by hand is noted by the operations desk and customer service.")
    ids = [int(one) for one in request.POST.getlist("notice") if one.isdecimal() and len(one) < 19]
    how = _how(request)
    if not ids or not how:
        return _refused(request, 422, "Tick who was told, and say how. Nothing was changed.")
    done = sum(outbox.attend(one, str(request.user), how) for one in ids)
    messages.success(request, f"{done} of {len(ids)} noted as told: {how}.")
    return redirect("notices")


def _how(request: HttpRequest) -> str:
    """The words beside a decision: what fits, without the NUL that PostgreSQL takes in no text."""
    return request.POST.get("how", "").replace("\0", "").strip()[:LONGEST]


def has_role(request: HttpRequest, roles: tuple[str, ...]) -> bool:
    """Whether whoever asks is signed in with one of these roles."""
    return request.user.is_authenticated and request.user.has_role(*roles)


def _refused(request: HttpRequest, status: int, why: str) -> HttpResponse:
    return render(
        request,
        "desk/notices.html",
        _context(request) | {"refused": why, "typed": request.POST.get("how", "")},
        status=status,
    )


def _context(request: HttpRequest) -> dict[str, object]:
    counts = selectors.counts()
    undecided = selectors.needs_a_person()
    heard = selectors.last_heard().get("worker")
    late = heard is None or (timezone.now() - heard).total_seconds() > 3 * settings.NOTICE_SWEEP_SECONDS
    return {
        "room": "desk",
        "counts": [
            {"n": undecided.count(), "words": "need a person", "level": "now" if undecided else ""},
            *({"n": counts[state], "words": WORDS[state]} for state in State),
        ],
        "undecided": undecided.exclude(channel="hand")[:SHOWN],
        "by_hand": selectors.by_hand()[:SHOWN],
        "may_tell": has_role(request, MAY_TELL),
        "on_their_way": selectors.on_their_way()[:SHOWN],
        "may_decide": has_role(request, MAY_DECIDE),
        "worker_heard": heard,
        "worker_late": late,
    }
