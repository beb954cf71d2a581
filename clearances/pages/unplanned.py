"""What customer service reads of an unplanned interruption: no crew, no device, no word about the line."""

from ..models import Trouble
from ..templatetags.board import clock

# For a caller whom nothing on the board takes out (common practice: planned, known trouble, or this house).
NOT_OURS = (
    "If they have none: is it the whole house, and do the neighbours have power? If it is theirs alone, ask "
    "them to look at their main breaker; if that is on, take the call for the desk."
)


def more(trouble: Trouble) -> str:
    """What is known of it, in plain sentences."""
    cause = (
        f"{trouble.cause[:1].upper()}{trouble.cause[1:]}." if trouble.cause else "The cause is not known yet."
    )
    word = f" Next to be said by {clock(trouble.next_word_at)}." if trouble.next_word_at else ""
    moved = " The time was changed since the first promise." if trouble.telling > 1 else ""
    return f"{cause}{moved}{word} It may come on and go off again."


def say(trouble: Trouble) -> str:
    """What the desk wants read out; else, once it has promised something, the promise in plain words."""
    if trouble.said_at is None:
        return ""
    if trouble.say:
        return trouble.say
    back = (
        f"We expect it back by {clock(trouble.back_by)}."
        if trouble.back_by
        else "We do not know yet when it is back."
    )
    return (
        f"Your power is off, and it is not planned work. {back} It may come on and go off again before then."
    )
