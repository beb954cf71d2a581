"""The table of states, the database trigger and the frozen copy in the migration say the same."""

import ast
from collections.abc import Callable
from importlib import import_module
from itertools import product
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models.functions import Now

import notifications
from notifications.models import Notice
from notifications.states import MOVES, WORDS, State

pytestmark = pytest.mark.django_db

# The shortest way from the beginning to each state.
WAY = {
    State.WAITING: [],
    State.SENDING: [State.SENDING],
    State.SENT: [State.SENDING, State.SENT],
    State.FAILED: [State.SENDING, State.FAILED],
    State.SUPERSEDED: [State.SUPERSEDED],
    State.UNCONFIRMED: [State.SENDING, State.UNCONFIRMED],
}


def by_hand(notice: Notice, **columns: str) -> None:
    """Hand-typed SQL as the board's own role."""
    names = ", ".join(f"{name} = %s" for name in columns)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE notifications_notice SET {names} WHERE id = %s", [*columns.values(), notice.id]
        )


def put(notice: Notice, state: State) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE notifications_notice SET state = %s, reason = 'why', claimed_by = 'w',"
            " lease_until = now(), sent_at = now() WHERE id = %s",
            [state, notice.id],
        )


def test_the_migration_holds_the_same_moves() -> None:
    frozen = import_module("notifications.migrations.0002_guard").MOVES
    assert frozen == [(str(source), str(target)) for source, target in MOVES]


def test_one_function_writes_the_state() -> None:
    """Whatever else is written, `state` is a keyword of `update` in `outbox._move` alone."""
    writers = []
    for file in Path(notifications.__file__).parent.glob("*.py"):
        functions = [
            node for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.FunctionDef)
        ]
        for function in functions:
            calls = [node for node in ast.walk(function) if isinstance(node, ast.Call)]
            updates = [call for call in calls if "update" in getattr(call.func, "attr", "")]
            words = [word.arg for call in updates for word in call.keywords]
            writers += [f"{file.stem}.{function.name}"] * words.count("state")
    assert writers == ["outbox._move"]


def test_every_state_is_reached_and_has_words() -> None:
    assert {target for _, target in MOVES} == set(State) == set(WORDS) == set(WAY)


@pytest.mark.parametrize(("source", "target"), list(product(State, State)))
def test_the_database_takes_exactly_the_moves_of_the_table(
    promise: Callable[..., Notice], source: State, target: State
) -> None:
    notice = promise()
    for state in WAY[source]:
        put(notice, state)
    if source == target or (source, target) in MOVES:
        put(notice, target)
    else:
        with pytest.raises(IntegrityError, match=f"is {source} and cannot become {target}"):
            put(notice, target)
        target = source
    notice.refresh_from_db()
    assert notice.state == target


@pytest.mark.parametrize("column", ["fact", "channel", "recipient", "about", "subject", "body", "message_id"])
def test_what_is_said_and_to_whom_is_frozen(promise: Callable[..., Notice], column: str) -> None:
    notice = promise()
    with pytest.raises(IntegrityError, match="cannot be changed"):
        by_hand(notice, **{column: "something else"})


def test_a_notice_is_never_deleted(promise: Callable[..., Notice]) -> None:
    notice = promise()
    with pytest.raises(IntegrityError, match="never deleted"), transaction.atomic():
        notice.delete()
    assert Notice.objects.filter(fact=notice.fact).exists()


@pytest.mark.parametrize("state", [state for state in State if state != State.WAITING])
def test_a_notice_begins_as_waiting(state: State) -> None:
    begun = Notice(
        fact="f", channel="email", recipient="r", about="a", state=state, reason="why", claimed_by="w"
    )
    begun.sent_at, begun.lease_until = Now(), Now()
    with pytest.raises(IntegrityError, match="cannot begin as"), transaction.atomic():
        begun.save(force_insert=True)


@pytest.mark.parametrize(
    ("columns", "constraint"),
    [
        ({"state": "sending", "claimed_by": "w"}, "notice_sending_has_a_lease"),
        ({"state": "sending", "lease_until": "2026-03-02 08:44Z"}, "notice_sending_has_a_lease"),
        ({"state": "superseded"}, "notice_not_sent_has_a_reason"),
    ],
)
def test_a_state_needs_its_columns(
    promise: Callable[..., Notice], columns: dict[str, str], constraint: str
) -> None:
    with pytest.raises(IntegrityError, match=constraint):
        by_hand(promise(), **columns)


@pytest.mark.parametrize(
    ("columns", "constraint"),
    [
        ({"state": "sent"}, "notice_sent_has_its_time"),
        ({"state": "failed"}, "notice_not_sent_has_a_reason"),
        ({"state": "unconfirmed"}, "notice_not_sent_has_a_reason"),
    ],
)
def test_an_ending_needs_its_columns(
    promise: Callable[..., Notice], columns: dict[str, str], constraint: str
) -> None:
    notice = promise()
    by_hand(notice, state="sending", claimed_by="w", lease_until="2026-03-02 08:44Z")
    with pytest.raises(IntegrityError, match=constraint):
        by_hand(notice, **columns)


def test_an_unknown_state_is_refused(promise: Callable[..., Notice]) -> None:
    with pytest.raises(IntegrityError):
        by_hand(promise(), state="delivered")
