"""The one table of states and the moves between them.

The rules read it, the database trigger is filled from it (frozen into a migration), and DEVELOPERS.md draws
it; tests hold the three together.
A move from "" is how a thing begins. A move that is not in the table is refused for everyone, also for SQL
typed by hand.
"""

from collections.abc import Mapping

Moves = frozenset[tuple[str, str]]

TRANSITIONS: Mapping[str, Moves] = {
    "job": frozenset({("", "active"), ("active", "finished"), ("active", "cancelled")}),
    "clearance": frozenset(
        {
            ("", "asked"),
            ("asked", "given"),
            ("asked", "withdrawn"),
            ("given", "asked"),  # taken back: the holder did not accept it
            ("given", "accepted"),
            ("accepted", "frozen"),
            ("frozen", "accepted"),
            ("accepted", "released"),
            ("frozen", "released"),
        }
    ),
    "order": frozenset(
        {
            ("", "draft"),
            ("draft", "checked"),
            ("checked", "draft"),
            ("checked", "paused"),
            ("paused", "checked"),
            ("checked", "finished"),
            ("draft", "withdrawn"),
            ("checked", "withdrawn"),
            ("paused", "withdrawn"),
        }
    ),
    "step": frozenset(
        {
            ("", "waiting"),
            ("waiting", "given"),
            ("given", "reported"),
            ("given", "waiting"),  # called back before anything was operated, or found otherwise
            ("waiting", "left_out"),  # the job was cancelled and nothing was done at this point
        }
    ),
    # Three kinds of protection that are no clearance and never become one.
    "hold": frozenset(
        {
            ("", "asked"),
            ("asked", "given"),
            ("asked", "withdrawn"),
            ("given", "withdrawn"),  # the holder did not accept it
            ("given", "accepted"),
            ("accepted", "given_back"),
        }
    ),
    "do_not_operate": frozenset({("", "given"), ("given", "given_back")}),
    "field_clearance": frozenset({("", "on"), ("on", "ended")}),
    "change": frozenset(
        {
            ("", "planned"),
            ("planned", "confirmed"),  # as built, or built differently
            ("planned", "not_done"),
            ("confirmed", "surveyed"),
            ("confirmed", "withdrawn"),  # the network on record is right after all
        }
    ),
}


def may_move(kind: str, old: str, new: str) -> bool:
    """Is `old` -> `new` a move of this kind of thing?

    >>> may_move("clearance", "asked", "given"), may_move("clearance", "asked", "released")
    (True, False)
    """
    return (old, new) in TRANSITIONS[kind]
