"""The states of a notice and the moves between them, as data.

The same table makes the database trigger (frozen into the migration), guards every UPDATE in `outbox` and
is what the tests walk.
"""

from enum import StrEnum


class State(StrEnum):
    WAITING = "waiting"  # promised, not yet picked up, or to be tried again at next_try_at
    SENDING = "sending"  # one worker has it, until its lease ends
    SENT = "sent"  # the mail server said it took the message, or a named person says it arrived
    FAILED = "failed"  # it did not go and will not be tried again; the reason says why
    SUPERSEDED = "superseded"  # no longer true before it went; the reason says what happened
    UNCONFIRMED = "unconfirmed"  # it may have gone; only a person may decide


MOVES: tuple[tuple[State, State], ...] = (
    (State.WAITING, State.SENDING),  # claimed
    (State.WAITING, State.SUPERSEDED),  # a newer fact took its place
    (State.SENDING, State.SENT),
    (State.SENDING, State.WAITING),  # the server cannot have taken it: tried again later
    (State.SENDING, State.FAILED),
    (State.SENDING, State.SUPERSEDED),  # asked again just before sending: no longer true
    (State.SENDING, State.UNCONFIRMED),  # the lease ended, or the server never answered the last dot
    (State.UNCONFIRMED, State.SENT),  # a person, or the worker itself answering late
    (State.UNCONFIRMED, State.WAITING),  # the same
    (State.UNCONFIRMED, State.FAILED),  # the same
    (State.UNCONFIRMED, State.SUPERSEDED),  # the worker itself answering late
    (State.FAILED, State.WAITING),  # a person has it sent again
)


def before(state: State) -> tuple[State, ...]:
    """The states from which `state` may be reached in one move.

    >>> [str(s) for s in before(State.SENDING)]
    ['waiting']
    """
    return tuple(source for source, target in MOVES if target == state)


WORDS: dict[State, str] = {
    State.WAITING: "waiting to be sent",
    State.SENDING: "being sent",
    State.SENT: "sent",
    State.FAILED: "not sent",
    State.SUPERSEDED: "not sent: no longer true",
    State.UNCONFIRMED: "may have been sent, not confirmed",
}
