"""The clauses that refusals lean on, and how each is known.

29 CFR 1910.269 (2014 revision; the same text for construction work stands in 29 CFR 1926.961 and .962).
`seen`: a public copy or a parallel text says this; `from memory`: recalled from the published text, check it
before you quote it; `utility rule`: not asked for by the federal rule, a custom of the trade that a utility
may set otherwise.
"""

from dataclasses import dataclass
from typing import Literal

Mark = Literal["seen", "from memory", "common practice", "utility rule"]


@dataclass(frozen=True, slots=True)
class Clause:
    """Where a rule stands (`number`), what it asks (`duty`, our words) and how it is known (`mark`)."""

    number: str
    duty: str
    mark: Mark

    def __str__(self) -> str:
        return f"{self.number} ({self.mark})"


def _federal(letter: str, duty: str, mark: Mark) -> Clause:
    return Clause(f"29 CFR 1910.269{letter}", duty, mark)


ONE_IN_CHARGE = _federal(
    "(m)(3)(i)", "one designated employee asks, and is in charge of the clearance", "seen"
)
ALL_OPENED = _federal(
    "(m)(3)(ii)",
    "every means through which known sources may feed is opened, made inoperable and tagged",
    "seen",
)
IN_ORDER = _federal("(m)(2)(i)", "all of (m)(3), in the order given", "seen")
TEST_AFTER_GIVEN = _federal("(m)(3)(vi)", "test for voltage after the clearance is given", "from memory")
TEST_BEFORE_GROUND = _federal("(n)(5)", "test before attaching a ground", "seen")
RELEASE_DUTIES = _federal(
    "(m)(3)(x)", "tell everyone, all off the line, all grounds off, report it, then release", "from memory"
)
HOLDER_RELEASES = _federal("(m)(3)(xi)", "only the employee in charge releases", "from memory")
TAG_AFTER_RELEASE = _federal(
    "(m)(3)(xii)", "no tag comes off before its clearance is released", "from memory"
)
REENERGIZE = _federal(
    "(m)(3)(xiii)",
    "no re-energizing at a point until grounds, people, crews and every tag there are off",
    "from memory",
)
BRIEFED = _federal("(c)", "the employee in charge knows the facts and briefs the crew", "from memory")

SECOND_PERSON = Clause(
    "second person's check of the order", "written and checked by two people", "utility rule"
)
ONE_STEP = Clause("one step at a time", "each step is reported before the next is given", "utility rule")
ROLE = Clause("the board's permission table", "each act belongs to named roles", "utility rule")
LIFE_SUPPORT = Clause(
    "life-support contact", "a person at the premises has answered before power goes", "common practice"
)
TELL_COUNT = Clause(
    "count typed back",
    "the number of people to be told is typed by the person who tells them",
    "common practice",
)
PICTURE = Clause(
    "the board's own picture", "an order must follow from what stands on the board", "common practice"
)
AS_LEFT = Clause(
    "as left before restore",
    "the restore half is given on the network as it was built",
    "common practice",
)
LIKE_PHASES = Clause("like phases only", "unlike phases are never joined", "common practice")
PEOPLE = Clause("people by name and role", "whoever acts is one known person", "common practice")
LEGIBLE = Clause("the board's log can be read", "every word and time in it can be read", "utility rule")
