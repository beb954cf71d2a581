"""The demo's post, by a real SMTP conversation."""

import smtplib
import sys
from collections.abc import Iterator
from email.message import EmailMessage
from mailbox import Maildir
from pathlib import Path

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from pytest_django import Settings

from config import mail
from config.servers import Child, free_port


@pytest.fixture
def sent(tmp_path: Path) -> Iterator[Path]:
    """The folder of a mail catcher that two letters were sent to."""
    folder, port = tmp_path / "mail", free_port()
    Maildir(folder)
    catcher = Child(
        "catcher", [sys.executable, "-m", "config.catcher", str(port), folder], log=tmp_path / "log"
    )
    try:
        catcher.wait_until(lambda: smtplib.SMTP("127.0.0.1", port).close())
        for subject in ["Your power will be off", "Your power is back – thank you"]:
            letter = EmailMessage()
            letter["From"], letter["To"] = "outages@orrinvale.example", "h.quill@example.org"
            letter["Subject"], letter["Date"] = subject, "Tue, 14 Apr 2026 08:05:00 -0400"
            letter.set_content("At 8:40 <on Mill Road>.\n")
            with smtplib.SMTP("127.0.0.1", port) as server:
                server.send_message(letter)
        yield folder
    finally:
        catcher.stop()
    assert catcher.process.returncode == 0


@pytest.mark.django_db
def test_what_was_sent_is_shown_to_who_is_signed_in(sent: Path, client: Client, settings: Settings) -> None:
    letters = mail.letters(sent)
    assert [letter["subject"] for letter in letters] == [
        "Your power is back – thank you",
        "Your power will be off",
    ]
    assert {(letter["to"], letter["text"]) for letter in letters} == {
        ("h.quill@example.org", "At 8:40 <on Mill Road>.\n")
    }
    settings.DEMO = sent
    assert client.get("/mail/").headers["Location"].startswith("/sign-in")
    client.force_login(get_user_model().objects.create(username="desk"))
    page = client.get("/mail/")
    assert page.content.decode().count("At 8:40 &lt;on Mill Road&gt;.") == 2
    assert page.headers["Content-Security-Policy"].startswith("default-src 'self'")
    assert page.headers["Cache-Control"] == "no-store"
    settings.DEMO = None
    assert client.get("/mail/").status_code == 404
