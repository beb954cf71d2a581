"""What may never be joined."""

from circuits.core.answers import Answer
from circuits.core.parallels import Parallels, loops_and_ties
from circuits.core.trace import Trace


def never_joined(
    before: Trace, then: Trace, *, were: Parallels | None = None, joined: Parallels | None = None
) -> tuple[str, ...]:
    """What is joined in the second state, and not in the first, that may never be, in words.

    That is unlike phases over a tie that is closed, or that stood closed and is energized; sources not on
    record as fit to be paralleled; a loop whose banks turn the voltage. Cost: the loops of both states,
    unless they are given (`loops_and_ties` is enough).
    """
    were = loops_and_ties(before) if were is None else were
    joined = loops_and_ties(then) if joined is None else joined
    ties = [
        tie.words
        for tie in joined.unlike
        if tie not in were.unlike or (_energized(then, tie.device) and not _energized(before, tie.device))
    ]
    made = joined.beyond(were).loops
    return tuple(ties + [loop.words for loop in made if loop.out_of_step or not loop.like])


def _energized(state: Trace, tie: str) -> bool:
    device = state.compiled.network.device[tie]
    return any(
        state.answer(node, phase) is Answer.ENERGIZED
        for node in (device.from_node, device.to_node)
        for phase in state.compiled.network.node[node].phases
    )
