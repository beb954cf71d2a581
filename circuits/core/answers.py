"""What can be said of a phase of a node, and of a customer."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from circuits.core.values import in_words


class Answer(StrEnum):
    """What can be said of one phase of one node; ordered by how much voltage may be there."""

    ENERGIZED = "energized"
    BACKFED = "possibly backfed, voltage not known"
    GENERATOR = "a customer's generator may feed it"
    DEENERGIZED = "de-energized by report"


# Nothing of the utility's is there. Possibly backfed is neither out nor in service.
OUT = frozenset({Answer.GENERATOR, Answer.DEENERGIZED})

VOLTAGE = {answer: place for place, answer in enumerate(Answer)}


def is_more(before: Answer, after: Answer) -> bool:
    """May more voltage stand after than before?

    >>> is_more(Answer.DEENERGIZED, Answer.BACKFED), is_more(Answer.ENERGIZED, Answer.BACKFED)
    (True, False)
    """
    return VOLTAGE[after] < VOLTAGE[before]


def together(answers: Iterable[Answer]) -> Answer:
    """What a supply of several phases has.

    >>> together([Answer.ENERGIZED, Answer.DEENERGIZED])
    <Answer.BACKFED: 'possibly backfed, voltage not known'>
    """
    found = set(answers)
    if len(found) == 1:
        return found.pop()
    return Answer.BACKFED if found & {Answer.ENERGIZED, Answer.BACKFED} else Answer.GENERATOR


@dataclass(frozen=True, slots=True)
class PremisesState:
    """What a customer has. `phases_out` are the phases of the supply that are not energized, `behind` the
    open devices that cut them off (a device that is normally open only where nothing else is), `through`
    the banks and other couplings that may put voltage on them all the same, `sources` whose voltage it is or
    may be.
    """

    answer: Answer
    phases_out: str = ""
    behind: tuple[str, ...] = ()
    through: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def out(self) -> bool:
        return self.answer in OUT

    @property
    def why(self) -> str:
        """The answer in words, with what it rests on."""
        if self.answer is Answer.ENERGIZED:
            return f"energized from {', '.join(self.sources)}"
        whose = f": {', '.join(self.sources)}" if self.answer is Answer.GENERATOR else ""
        behind = f" behind {', '.join(self.behind)}" if self.behind else ""
        through = f"; voltage may come through {', '.join(self.through)}" if self.through else ""
        return f"{self.answer}{whose}; {in_words(self.phases_out)} not energized{behind}{through}"
