"""The demo's post: a page that shows the mail which its mail server (`config.catcher`) has caught."""

import email
import email.policy
from email.utils import parsedate_to_datetime
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

SHOWN = 200


def letters(folder: Path, *, at_most: int = SHOWN) -> list[dict[str, object]]:
    """The newest letters of a Maildir, newest first: to, subject, when, text."""
    files = sorted((folder / "new").glob("*"), key=lambda file: file.stat().st_mtime_ns, reverse=True)
    return [_letter(file) for file in files[:at_most]]


def _letter(file: Path) -> dict[str, object]:
    message = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
    body = message.get_body(("plain",))
    return {
        "to": message["To"],
        "subject": message["Subject"],
        "when": parsedate_to_datetime(message["Date"]) if message["Date"] else None,
        "text": body.get_content() if body else "",
    }


@require_GET
@login_required
def page(request: HttpRequest) -> HttpResponse:
    """GET /mail/: what the demo's customers would have received."""
    if settings.DEMO is None:
        raise Http404
    return render(request, "mail.html", {"letters": letters(settings.DEMO)})
