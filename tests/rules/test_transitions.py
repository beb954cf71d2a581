"""The table of states: nothing stands still, everything can end, and some moves are never made."""

import re
from pathlib import Path

import pytest

from clearances.rules.transitions import TRANSITIONS, may_move


@pytest.mark.parametrize("kind", TRANSITIONS)
def test_every_state_is_reached_from_the_beginning_and_none_is_its_own_next(kind: str) -> None:
    moves = TRANSITIONS[kind]
    reached = {""}
    while more := {new for old, new in moves if old in reached} - reached:
        reached |= more
    assert reached == {state for move in moves for state in move}
    assert not any(old == new for old, new in moves)
    assert "" not in {new for _, new in moves}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("asked", "accepted"),  # (m)(3)(vi): the operator gives it first [from memory]
        ("given", "released"),  # not accepted: it is taken back
        ("accepted", "asked"),  # accepted: only its holder ends it, (m)(3)(xi) [from memory]
        ("accepted", "withdrawn"),
        ("frozen", "withdrawn"),
        ("released", "accepted"),  # released means released
        ("released", "asked"),
        ("withdrawn", "asked"),
    ],
)
def test_a_clearance_never_goes(old: str, new: str) -> None:
    assert not may_move("clearance", old, new)


@pytest.mark.parametrize(
    ("old", "new"),
    [("waiting", "reported"), ("reported", "waiting"), ("reported", "given"), ("given", "left_out")],
)
def test_a_step_never_goes(old: str, new: str) -> None:
    assert not may_move("step", old, new)


def test_the_drawing_for_developers_has_the_same_moves() -> None:
    """Trailing underscores only keep the names of different boxes apart."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text()
    drawn = {}
    for kind, inside in re.findall(r"^    state (\w+) \{\n(.*?)^    \}", text, re.DOTALL | re.MULTILINE):
        moves = re.findall(r"(\S+) --> (\S+)", inside)
        drawn[kind] = {(old.replace("[*]", "").rstrip("_"), new.rstrip("_")) for old, new in moves}
    assert drawn == {kind: set(moves) for kind, moves in TRANSITIONS.items()}


@pytest.mark.parametrize(
    ("old", "new"),
    [("not_done", "confirmed"), ("planned", "surveyed"), ("confirmed", "planned"), ("withdrawn", "surveyed")],
)
def test_a_change_of_the_network_never_goes(old: str, new: str) -> None:
    assert not may_move("change", old, new)
