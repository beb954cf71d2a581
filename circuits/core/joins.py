"""What may never be joined."""

from circuits.core.answers import Answer
from circuits.core.parallels import Parallels, loops_and_ties
from circuits.core.trace import Trace


def never_joined(
    before: Trace, then: Trace, *, were: Parallels | None = None, joined: Parallels | None = None
) -> tuple[str, ...]:
    """What is joined in the second state, and not in the first, that may never be, in words.

    That is unlike phases over a tie that is closed, or a leg of it that stood closed and is energized;
    sources not on record as fit to be paralleled; a loop whose banks turn the voltage. Cost: the loops of
    both states, unless they are given (`loops_and_ties` is enough).
    """
    were = loops_and_ties(before) if were is None else were
    joined = loops_and_ties(then) if joined is None else joined
    ties = [
        tie.words
        for tie in joined.unlike
        if tie not in were.unlike or not _live(then, tie.device) <= _live(before, tie.device)
    ]
    made = joined.beyond(were).loops
    return tuple(ties + [loop.words for loop in made if loop.out_of_step or not loop.like])


def made_before_broken(before: Trace, then: Trace) -> bool:
    """Whether ties that are closed in the second state may be closed before what feeds their load is opened,
    so that nobody is out for it: not where that joins what may never be joined, nor where it parallels two
    stations, whose voltages whoever closes it would have to know (common practice).
    """
    were, joined = loops_and_ties(before), loops_and_ties(then)
    return not never_joined(before, then, were=were, joined=joined) and not any(
        loop.parallels_sources for loop in joined.beyond(were).loops
    )


def _live(state: Trace, tie: str) -> set[str]:
    """The legs of a tie that stand closed and are energized, by the phase that they are called by."""
    compiled = state.compiled
    legs = {phase: compiled.switch[tie, phase] for phase in compiled.network.device[tie].phases}
    return {
        phase
        for phase, leg in legs.items()
        if state.closed[leg]
        and state.answer(*compiled.points[compiled.switches[leg].ends[0]]) is Answer.ENERGIZED
    }
