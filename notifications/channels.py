"""The ways a notice leaves by. Each takes a `Letter` and says how it ended: `Sent`, `NotTaken` or `Unknown`.

E-mail over SMTP takes no idempotency key, so all turns on one moment: the dot that ends DATA. Before it the
server can't have taken the message, and trying again is harmless. After it only the server's answer tells;
where none comes the message may have gone, and nobody but a person may order it again (RFC 5321, 4.5.3.2.6,
and RFC 1047 tell how such a silence makes duplicates).
"""

import re
import smtplib
import socket
import ssl
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP as WIRE
from email.utils import format_datetime, parseaddr

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import DNS_NAME
from django.core.validators import validate_email
from django.utils import timezone

CONNECT_SECONDS = 10.0
NO_ADDRESS = "No e-mail address is on file."


@dataclass(frozen=True)
class Letter:
    """What is to be sent. `written_at` is when the notice was promised: every attempt is the same message."""

    message_id: str
    recipient: str
    subject: str
    body: str
    written_at: datetime


@dataclass(frozen=True)
class Sent:
    """The server said that it has the message; `answer` is what it said."""

    answer: str


@dataclass(frozen=True)
class NotTaken:
    """The server does not have the message. `unreachable`: nor would it have taken any other just now."""

    reason: str
    try_again: bool
    unreachable: bool = False


@dataclass(frozen=True)
class Unknown:
    """The message was handed over and no answer came: it may have gone."""

    reason: str


Result = Sent | NotTaken | Unknown


def send_email(letter: Letter, *, seconds: float) -> Result:
    """Send one plain-text message by SMTP (RFC 5321), in one conversation that ends within `seconds`.

    Never raises for what the server, the network or the address do. Cost: one connection.
    """
    deadline = time.monotonic() + seconds
    try:
        message = _message(letter)
    except ValidationError:
        wrong = f"{letter.recipient} is not an e-mail address." if letter.recipient else NO_ADDRESS
        return NotTaken(wrong, try_again=False)
    try:
        server = _connect(deadline)
    except (OSError, smtplib.SMTPException) as error:
        return NotTaken(
            f"The mail server could not be used: {_words(error)}", try_again=True, unreachable=True
        )
    try:
        return _converse(server, letter, message, deadline)
    finally:
        with suppress(OSError, smtplib.SMTPException):
            _wait_at_most(server, min(2.0, deadline - time.monotonic()))
            server.quit()
        server.close()


def by_hand(letter: Letter, *, seconds: float) -> Result:
    """Nothing leaves: somebody goes to the door or telephones, and says on the notices page how."""
    return NotTaken("No e-mail address is on record: told at the door or by telephone.", try_again=False)


CHANNELS: dict[str, Callable[..., Result]] = {"email": send_email, "hand": by_hand}


def _message(letter: Letter) -> bytes:
    """The message for the wire: RFC 5322 header fields, RFC 2047 words, RFC 3834 `Auto-Submitted`."""
    validate_email(letter.recipient)
    if not letter.recipient.isascii():  # would need SMTPUTF8 (RFC 6531) all the way
        raise ValidationError(letter.recipient)
    message = EmailMessage(policy=WIRE)
    name, sender = parseaddr(settings.NOTICE_FROM)
    message["From"] = Address(display_name=name, addr_spec=sender)
    message["To"] = Address(addr_spec=letter.recipient)
    message["Subject"] = " ".join(letter.subject.split())
    message["Date"] = format_datetime(timezone.localtime(letter.written_at))
    message["Message-ID"] = letter.message_id
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(letter.body)
    return message.as_bytes()


def _connect(deadline: float) -> smtplib.SMTP:
    """A connection that has said EHLO and, where configured, is encrypted and logged in."""
    seconds = min(CONNECT_SECONDS, deadline - time.monotonic())
    place = (settings.EMAIL_HOST, settings.EMAIL_PORT, str(DNS_NAME))
    server = (
        smtplib.SMTP_SSL(*place, timeout=seconds, context=ssl.create_default_context())
        if settings.EMAIL_USE_SSL
        else smtplib.SMTP(*place, timeout=seconds)
    )
    try:
        # The dot goes in a packet of its own and should not wait until the text is acknowledged (40 ms).
        if server.sock is not None:
            server.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        server.ehlo_or_helo_if_needed()
        if settings.EMAIL_USE_TLS:
            server.starttls(context=ssl.create_default_context())
            server.ehlo()
        if settings.EMAIL_HOST_USER:
            server.login(settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD)
    except BaseException:
        server.close()
        raise
    return server


def _converse(server: smtplib.SMTP, letter: Letter, message: bytes, deadline: float) -> Result:
    envelope = (
        (f"MAIL FROM:<{parseaddr(settings.NOTICE_FROM)[1]}>", (250,)),
        (f"RCPT TO:<{letter.recipient}>", (250, 251)),
        ("DATA", (354,)),
    )
    try:
        for command, wanted in envelope:
            _wait_at_most(server, deadline - time.monotonic())
            code, text = server.docmd(command)
            if code not in wanted:
                return _declined(code, text)
        _wait_at_most(server, deadline - time.monotonic())
        # The dot goes by itself, below: until it is on its way the server can't have the message.
        server.send(re.sub(rb"(?m)^\.", b"..", message))
        # A worker that was frozen until now may no longer hold the notice.
        _wait_at_most(server, deadline - time.monotonic())
    except (OSError, smtplib.SMTPException) as error:
        return NotTaken(
            f"The mail server broke off before it had the message: {_words(error)}", try_again=True
        )
    try:
        server.send(b".\r\n")
        code, text = server.getreply()
    except (OSError, smtplib.SMTPException) as error:
        return Unknown(f"The mail server had the whole message and did not answer: {_words(error)}")
    if 200 <= code < 300:
        return Sent(f"{code} {_readable(text)}")
    if 400 <= code < 600:  # RFC 5321, 4.2.1: "the requested action did not occur"
        return _declined(code, text)
    return Unknown(f"The mail server had the whole message and answered: {_readable(text)}")


def _wait_at_most(server: smtplib.SMTP, seconds: float) -> None:
    if server.sock is None:
        raise smtplib.SMTPServerDisconnected("not connected")
    if seconds <= 0:
        raise TimeoutError("no time left")
    server.sock.settimeout(seconds)


def _declined(code: int, text: bytes) -> NotTaken:
    """4yz may be tried again, anything else may not (RFC 5321, 4.2.1); with 421 the server is going away."""
    return NotTaken(
        f"The mail server answered: {code} {_readable(text)}",
        try_again=400 <= code < 500,
        unreachable=code == 421,
    )


def _readable(text: bytes) -> str:
    return " ".join(text.decode("utf-8", "replace").split())


def _words(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPResponseException):
        answer = error.smtp_error
        return f"{error.smtp_code} {_readable(answer if isinstance(answer, bytes) else answer.encode())}"
    return " ".join(str(error).split()) or type(error).__name__
