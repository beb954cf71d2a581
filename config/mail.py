"""The demo's post: a mail server on this machine that keeps what it is sent, and a page that shows it.

Only `make demo` runs it. `python -m config.mail PORT FOLDER` serves SMTP until it is told to stop; the
letters lie in FOLDER as a Maildir.
"""

import asyncio
import email
import email.policy
import signal
import sys
from datetime import datetime
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from mailbox import Maildir
from pathlib import Path

from aiosmtpd.handlers import Mailbox
from aiosmtpd.smtp import SMTP
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

SHOWN = 200


def letters(folder: Path, *, at_most: int = SHOWN) -> list[dict[str, object]]:
    """The newest letters of a Maildir, newest first: to, subject, when, text."""
    box = sorted((folder / "new").glob("*"), key=lambda file: file.stat().st_mtime_ns, reverse=True)
    return [_letter(file) for file in box[:at_most]]


def _letter(file: Path) -> dict[str, object]:
    message = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
    assert isinstance(message, EmailMessage)  # noqa: S101 - what the policy makes
    body = message.get_body(("plain",))
    when: datetime | None = parsedate_to_datetime(message["Date"]) if message["Date"] else None
    return {
        "to": message["To"],
        "subject": message["Subject"],
        "when": when,
        "text": body.get_content() if body else "",
    }


@login_required
def page(request: HttpRequest) -> HttpResponse:
    """GET /mail/: what the demo's customers would have received."""
    if settings.DEMO is None:
        raise Http404
    return render(request, "mail.html", {"letters": letters(settings.DEMO)})


async def serve(port: int, folder: Path) -> None:
    """Take mail on this machine's loopback address until SIGTERM or SIGINT."""
    for name in ["new", "cur", "tmp"]:
        (folder / name).mkdir(parents=True, exist_ok=True)
    loop = asyncio.get_running_loop()
    stop = asyncio.Event()
    for signal_number in [signal.SIGTERM, signal.SIGINT]:
        loop.add_signal_handler(signal_number, stop.set)
    handler = Mailbox(folder, Maildir)
    server = await loop.create_server(lambda: SMTP(handler, enable_SMTPUTF8=True), "127.0.0.1", port)
    async with server:
        await stop.wait()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), Path(sys.argv[2])))
