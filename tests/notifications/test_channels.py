"""One message over real SMTP: what goes over the wire, and what each way of failing is taken for."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from types import SimpleNamespace

import pytest
from django.test import override_settings

from notifications.channels import Letter, NotTaken, Result, Sent, Unknown, send_email
from tests.notifications.post import DROP, STALL, Post

WRITTEN = datetime(2026, 3, 2, 13, 44, tzinfo=UTC)
LETTER = Letter(
    message_id="<20260302134400.1.notice@orrinvale.example>",
    recipient="r.okafor@quarrylane.example",
    subject="Power is off at 12 Quarry Lane",
    body="Power is off since 08:44.\n",
    written_at=WRITTEN,
)


def send(letter: Letter = LETTER, seconds: float = 20, **changes: str) -> Result:
    values = {
        name: getattr(letter, name) for name in ["message_id", "recipient", "subject", "body", "written_at"]
    }
    return send_email(Letter(**values | changes), seconds=seconds)


def text_of(letter: EmailMessage) -> str:
    return str(letter.get_content()).replace("\r\n", "\n")


def test_the_server_has_it(post_office: Callable[..., Post]) -> None:
    post = post_office()
    assert send() == Sent("250 taken as 4711")
    (letter,) = post.letters
    assert post.recipients == [LETTER.recipient]
    # RFC 5322, 3.6: the fields and how often they stand.
    for field in ["From", "To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type"]:
        assert len(letter.get_all(field, [])) == 1, field
    assert letter["From"] == "Orrin Vale Municipal Light <outages@orrinvale.example>"
    assert letter["To"] == LETTER.recipient
    assert letter["Message-ID"] == LETTER.message_id
    assert parsedate_to_datetime(letter["Date"]) == WRITTEN
    # RFC 3834, 5: no out-of-office answer comes back.
    assert letter["Auto-Submitted"] == "auto-generated"
    assert letter.get_content_type() == "text/plain"
    assert text_of(letter) == LETTER.body


@pytest.mark.parametrize(
    "body",
    [
        # RFC 5321, 4.5.2: lines that begin with a dot, and the line that would end the message.
        "First\n.\n..\n.hidden\nlast\n",
        "Corriente otra vez a las 14:00. Señal: ⚡\n",
        "long " * 400 + "\n",
        "no line end at the end",
        "\n\n",
    ],
)
def test_the_text_arrives_as_it_was_written(post_office: Callable[..., Post], body: str) -> None:
    post = post_office()
    assert isinstance(send(body=body), Sent)
    assert text_of(post.letters[0]) == (body if body.endswith("\n") else body + "\n")
    # RFC 5321, 4.5.3.1.6: at most 1000 octets a line; 2.3.8: CR and LF only as a pair.
    lines = post.raw[0].split(b"\r\n")
    assert max(map(len, lines)) <= 998
    assert not re.search(rb"[\r\n]", b"".join(lines))


def test_a_subject_beyond_ascii_is_an_encoded_word(post_office: Callable[..., Post]) -> None:
    post = post_office()
    subject = "Corte planificado mañana en Señorío Lane, de 08:00 a 14:00, por un poste podrido"
    assert isinstance(send(subject=subject), Sent)
    assert post.letters[0]["Subject"] == subject
    header = post.raw[0].partition(b"\r\n\r\n")[0]
    assert header.isascii()
    assert b"=?utf-8?" in header  # RFC 2047, 2
    assert max(map(len, header.split(b"\r\n"))) <= 78  # RFC 5322, 2.1.1


def test_a_subject_can_not_smuggle_in_a_field(post_office: Callable[..., Post]) -> None:
    post = post_office()
    assert isinstance(send(subject="Off\r\nBcc: everyone@example.org"), Sent)
    assert post.letters[0]["Bcc"] is None
    assert post.letters[0]["Subject"] == "Off Bcc: everyone@example.org"


@pytest.mark.parametrize(
    "recipient",
    ["nobody", "a@b@c.example", "a@b.example>\r\nRCPT TO:<x@y.example", "señora@quarrylane.example"],
)
def test_what_is_not_an_address_fails_for_good_and_asks_no_server(recipient: str) -> None:
    result = send(recipient=recipient)
    assert isinstance(result, NotTaken)
    assert not result.try_again
    assert "not an e-mail address" in result.reason


@pytest.mark.parametrize("stage", ["mail", "rcpt", "data", "dot"])
@pytest.mark.parametrize(
    ("answer", "try_again", "unreachable"),
    # RFC 5321, 4.2.1: 4yz transient, 5yz permanent, "the requested action did not occur"; 3.8: 421 closes.
    [("451 later", True, False), ("421 going down", True, True), ("550 no such mailbox", False, False)],
)
def test_a_server_that_declines_does_not_have_it(
    post_office: Callable[..., Post], stage: str, answer: str, try_again: bool, unreachable: bool
) -> None:
    post_office(**{stage: answer})
    assert send() == NotTaken(f"The mail server answered: {answer}", try_again, unreachable)


def test_nobody_there_is_tried_again() -> None:
    result = send()
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert result.unreachable
    assert "Connection refused" in result.reason


@pytest.mark.parametrize("greeting", [DROP, STALL, "554 no mail here", "421 too busy"])
def test_a_server_that_does_not_greet_is_tried_again(post_office: Callable[..., Post], greeting: str) -> None:
    post_office(greeting=greeting)
    result = send(seconds=1)
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert result.unreachable


@pytest.mark.parametrize("stage", ["mail", "rcpt", "data"])
@pytest.mark.parametrize("behaviour", [DROP, STALL])
def test_a_break_before_the_message_is_tried_again(
    post_office: Callable[..., Post], stage: str, behaviour: str
) -> None:
    post = post_office(**{stage: behaviour})
    result = send(seconds=1)
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert post.letters == []


def test_a_break_within_the_message_is_never_sent_again_blindly(post_office: Callable[..., Post]) -> None:
    """The server cuts right after granting DATA. The client may notice before its dot or only with it."""
    post = post_office(text=DROP)
    result = send(seconds=5, body="long " * 100_000)
    assert isinstance(result, Unknown) or (isinstance(result, NotTaken) and result.try_again)
    assert post.letters == []


@pytest.mark.parametrize("behaviour", [DROP, STALL, "nonsense", "354 more?"])
def test_after_the_dot_only_an_answer_tells(post_office: Callable[..., Post], behaviour: str) -> None:
    post = post_office(dot=behaviour)
    result = send(seconds=1)
    assert isinstance(result, Unknown)
    assert "had the whole message" in result.reason
    assert len(post.letters) == 1


def test_a_worker_that_was_frozen_does_not_hand_over_late(
    post_office: Callable[..., Post], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its time is over between the text and the dot: by then somebody may have decided to send it again."""
    post = post_office()
    clock = iter([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 99.0])
    monkeypatch.setattr("notifications.channels.time", SimpleNamespace(monotonic=lambda: next(clock, 99.0)))
    result = send(seconds=20)
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert "no time left" in result.reason
    assert post.letters == []


def test_a_server_that_wants_a_log_in_that_fails_is_our_trouble_and_not_the_notices(
    post_office: Callable[..., Post],
) -> None:
    post_office()
    with override_settings(EMAIL_HOST_USER="board", EMAIL_HOST_PASSWORD="wrong"):
        result = send()
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert result.unreachable


@pytest.mark.parametrize("setting", ["EMAIL_USE_TLS", "EMAIL_USE_SSL"])
def test_where_encryption_is_wanted_nothing_goes_without(
    post_office: Callable[..., Post], setting: str
) -> None:
    post = post_office()
    with override_settings(**{setting: True}):
        result = send(seconds=5)
    assert isinstance(result, NotTaken)
    assert result.try_again
    assert result.unreachable
    assert post.letters == []
