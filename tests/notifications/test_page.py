"""The desk's page of notices: who may see it, what it shows, and each decision."""

from collections.abc import Callable

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from notifications import delivery, outbox
from notifications.channels import NotTaken, Unknown
from notifications.models import Notice
from notifications.states import State

pytestmark = pytest.mark.django_db

Promise = Callable[..., Notice]
PAGE = "/desk/notices/"


@pytest.fixture
def sign_in(client: Client) -> Callable[[str], Client]:
    def signed_in(role: str) -> Client:
        person = get_user_model().objects.create_user(
            username=role, first_name="Ines", last_name="Marlow", roles=[role]
        )
        client.force_login(person)
        return client

    return signed_in


@pytest.fixture
def unconfirmed(promise: Promise) -> Notice:
    notice = promise()
    outbox.settle(_claimed(), Unknown("The mail server had the whole message and did not answer: timed out"))
    return notice


@pytest.fixture
def failed(promise: Promise) -> Notice:
    notice = promise("interruption:17:back", about="1042")
    outbox.settle(_claimed(), NotTaken("The mail server answered: 550 no such mailbox", try_again=False))
    return notice


def _claimed() -> Notice:
    notice = outbox.claim()
    assert notice is not None
    return notice


def row(notice: Notice) -> Notice:
    return Notice.objects.get(id=notice.id)


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("operator", 200),
        ("checker", 200),
        ("service", 200),
        ("foreman", 403),
        ("crew", 403),
        ("engineer", 403),
    ],
)
def test_who_may_see_it(sign_in: Callable[[str], Client], role: str, status: int) -> None:
    assert sign_in(role).get(PAGE).status_code == status


def test_a_stranger_signs_in_first(client: Client) -> None:
    assert client.get(PAGE).headers["Location"].startswith("/sign-in")
    assert client.post(f"{PAGE}1/", {"decision": "give_up"}).headers["Location"].startswith("/sign-in")


@pytest.mark.parametrize("role", ["checker", "service", "foreman", "crew", "engineer", "administrator"])
def test_only_an_operator_decides(sign_in: Callable[[str], Client], unconfirmed: Notice, role: str) -> None:
    answer = sign_in(role).post(f"{PAGE}{unconfirmed.id}/", {"decision": "send_again"})
    assert answer.status_code == 403
    assert row(unconfirmed).state == State.UNCONFIRMED


def test_what_needs_a_person_is_shown_with_its_decisions(
    sign_in: Callable[[str], Client], unconfirmed: Notice, failed: Notice, promise: Promise
) -> None:
    waiting = promise("interruption:18:off", recipient="waits@quarrylane.example")
    delivery.beat("worker")
    page = sign_in("operator").get(PAGE).content.decode()
    for words in [
        "did not answer: timed out", "550 no such mailbox", "Send it again", "It has arrived",
        "Do not send it again", waiting.recipient, "2</b><small>need a person",
        "1</b><small>waiting to be sent",
    ]:  # fmt: skip
        assert words in page, words
    assert "no worker" not in page


def test_a_reader_sees_no_buttons(sign_in: Callable[[str], Client], unconfirmed: Notice) -> None:
    page = sign_in("service").get(PAGE).content.decode()
    assert unconfirmed.subject in page
    assert "Send it again" not in page


def test_a_page_without_a_worker_says_so(sign_in: Callable[[str], Client]) -> None:
    assert "no worker has ever been heard" in sign_in("operator").get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("decision", "state"),
    [("send_again", State.WAITING), ("mark_sent", State.SENT), ("give_up", State.FAILED)],
)
def test_each_decision_about_an_unconfirmed_one(
    sign_in: Callable[[str], Client], unconfirmed: Notice, decision: str, state: State
) -> None:
    answer = sign_in("operator").post(f"{PAGE}{unconfirmed.id}/", {"decision": decision}, follow=True)
    assert answer.redirect_chain == [(PAGE, 302)]
    assert row(unconfirmed).state == state
    assert "Ines Marlow" in row(unconfirmed).reason


def test_a_failed_one_is_dealt_with_in_words(sign_in: Callable[[str], Client], failed: Notice) -> None:
    client = sign_in("operator")
    said = "told by telephone at 14:10"
    assert client.post(f"{PAGE}{failed.id}/", {"decision": "attend", "how": said}).status_code == 302
    assert row(failed).reason.endswith(f"Ines Marlow: {said}")
    assert "No notice needs a person." in client.get(PAGE).content.decode()


def test_a_second_decision_changes_nothing_and_says_who_was_quicker(
    sign_in: Callable[[str], Client], unconfirmed: Notice
) -> None:
    outbox.give_up(unconfirmed.id, "Sam Oyelaran")
    before = row(unconfirmed).reason
    answer = sign_in("operator").post(f"{PAGE}{unconfirmed.id}/", {"decision": "send_again"})
    assert answer.status_code == 409
    assert "is already not sent, decided by Sam Oyelaran. Nothing was changed." in answer.content.decode()
    assert (row(unconfirmed).state, row(unconfirmed).reason) == (State.FAILED, before)


@pytest.mark.parametrize(
    ("sent", "status", "words"),
    [
        ({"decision": "burn"}, 422, "Press one of the buttons"),
        ({}, 422, "Press one of the buttons"),
        ({"decision": "attend", "how": "  "}, 422, "Say how the customer was told"),
        ({"decision": "mark_sent"}, 409, "is already not sent"),
    ],
)
def test_what_can_not_be_decided_is_refused_in_words(
    sign_in: Callable[[str], Client], failed: Notice, sent: dict[str, str], status: int, words: str
) -> None:
    answer = sign_in("operator").post(f"{PAGE}{failed.id}/", sent)
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert row(failed).state == State.FAILED


def test_nothing_typed_is_lost(sign_in: Callable[[str], Client], failed: Notice) -> None:
    outbox.attend(failed.id, "Sam Oyelaran", "called her")
    answer = sign_in("operator").post(
        f"{PAGE}{failed.id}/", {"decision": "attend", "how": "door hanger <at the back>"}
    )
    assert answer.status_code == 409
    assert "You had written: door hanger &lt;at the back&gt;" in answer.content.decode()


def test_an_unknown_notice_is_said_to_be_unknown(sign_in: Callable[[str], Client]) -> None:
    answer = sign_in("operator").post(f"{PAGE}987654/", {"decision": "give_up"})
    assert answer.status_code == 404
    assert "There is no notice 987654." in answer.content.decode()


def by_hand(promise: Promise, where: str) -> Notice:
    notice = promise(f"clearance:41:planned:{where}", channel="hand", recipient=where)
    delivery.sweep(seconds=5, stopping=lambda: False)
    notice.refresh_from_db()
    return notice


def test_who_has_no_address_waits_for_somebody_to_go_there(
    sign_in: Callable[[str], Client], promise: Promise
) -> None:
    one, other = by_hand(promise, "12 Ferry Street"), by_hand(promise, "14 Ferry Street")
    assert one.state == State.FAILED
    assert "told at the door or by telephone" in one.reason
    client = sign_in("service")
    page = client.get(PAGE).content.decode()
    assert "12 Ferry Street" in page
    assert "14 Ferry Street" in page
    answer = client.post(f"{PAGE}told/", {"notice": [one.pk], "how": "hung on the door"}, follow=True)
    assert "1 of 1 noted as told: hung on the door." in answer.content.decode()
    one.refresh_from_db()
    other.refresh_from_db()
    assert (one.decided_by, other.decided_by) == ("Ines Marlow", "")
    assert one.reason.endswith("Ines Marlow: hung on the door")


def test_nobody_counts_as_told_without_how_or_by_the_wrong_role(
    sign_in: Callable[[str], Client], promise: Promise
) -> None:
    one = by_hand(promise, "12 Ferry Street")
    client = sign_in("operator")
    assert client.post(f"{PAGE}told/", {"notice": [one.pk], "how": " "}).status_code == 422
    assert client.post(f"{PAGE}told/", {"notice": ["x"], "how": "door"}).status_code == 422
    assert sign_in("foreman").post(f"{PAGE}told/", {"notice": [one.pk], "how": "door"}).status_code == 403
    one.refresh_from_db()
    assert one.decided_by == ""
