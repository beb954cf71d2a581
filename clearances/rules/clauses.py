"""The clauses that refusals lean on, and how each is known.

29 CFR 1910.269 (2014 revision; the same text for construction work stands in 29 CFR 1926.961 and .962).
`seen`: a public copy or a parallel text says this; `from memory`: recalled from the published text, check it
before you quote it; `utility rule`: not asked for by the federal rule, a custom of the trade that a utility
may set otherwise.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

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


EXCHANGED = _federal(
    "(a)(3)", "host utility and contractor tell each other what they know of the site, before work", "seen"
)
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
FIELD_CLEARANCE = _federal(
    "(m)(2)(iii)",
    "one crew, its disconnect accessible, in sight and under the sole control of the employee in charge",
    "seen",
)
SEPARATE_CREWS = _federal(
    "(m)(2)(iv)", "two crews on the same lines are one crew, or each has its own protection", "seen"
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
ONE_SITE = Clause(
    "one holder, one site",
    "whoever is in charge is at the work; two clearances of one holder have a pole in common",
    "common practice",
)
NO_PARTIAL_RELEASE = Clause(
    "stages of a job",
    "a stage ends by releasing its clearance; the next has its own, whose protection stood before",
    "utility rule",
)
LIKE_PHASES = Clause(
    "never join unlike phases",
    "nothing is closed whose sides derive from unlike phases, or from sources not fit to be paralleled",
    "common practice",
)
ROLL_CALL = Clause(
    "roll-call before a close",
    "whoever one wrong report would put under voltage has been asked and has said yes; silence is a no",
    "common practice",
)
HOT_LINE_HOLD = Clause(
    "hot-line hold",
    "whoever works energized beyond a device that closes by itself is asked before it is operated",
    "common practice",
)
DO_NOT_OPERATE = Clause(
    "customer's do-not-operate",
    "a device kept open for a customer's worker is given back by that person, met on site",
    "common practice",
)
TELL_COUNT = Clause(
    "count typed back",
    "the number of people to be told is typed by the person who tells them",
    "common practice",
)
PICTURE = Clause(
    "the board's own picture", "an order must follow from what stands on the board", "common practice"
)
PICK_UP = Clause(
    "load picked up by a tie",
    "what is picked up hangs on nothing that another job opens or moves in the same hours",
    "common practice",
)
AS_LEFT = Clause(
    "as left before restore",
    "the restore half is given on the network as it was built",
    "common practice",
)
PEOPLE = Clause("people by name and role", "whoever acts is one known person", "common practice")
LEGIBLE = Clause("the board's log can be read", "every word and time in it can be read", "utility rule")
CUSTOMERS_HEAR = Clause(
    "what customers are told", "a promise lies ahead, and goes to those who are still out", "common practice"
)
PATROL = Clause(
    "patrol after the second blow",
    "what dropped twice is not closed again before somebody has gone along the line",
    "common practice",
)
TWO_SAY_SO = Clause(
    "two people correct a count of grounds",
    "that a set never went on is said by the holder and a second crew member",
    "common practice",
)
LIVE_WORD = Clause(
    "live two-way word",
    "nothing is given, accepted, released or answered by what waited in a telephone",
    "common practice",
)

# The set by name. A utility under a state plan lays its own clauses over it (`clearances.clause_set`).
FEDERAL: Mapping[str, Clause] = {
    name.lower(): one for name, one in list(globals().items()) if isinstance(one, Clause)
}
_NAMES = {one: name for name, one in FEDERAL.items()}


def laid_over(own: Mapping[str, Clause], clause: Clause) -> Clause:
    """The clause as the utility's own set has it, else as it stands here.

    >>> own = {"reenergize": Clause("29 CFR 1926.961(c)(13)", "as in construction work", "from memory")}
    >>> str(laid_over(own, REENERGIZE)), str(laid_over(own, IN_ORDER))
    ('29 CFR 1926.961(c)(13) (from memory)', '29 CFR 1910.269(m)(2)(i) (seen)')
    """
    return own.get(_NAMES.get(clause, ""), clause)


def read(name: str, said: Mapping[str, str]) -> Clause:
    """One clause of a utility's own set: `number` and `mark`, and `duty` where it differs.

    Raises ValueError, with a sentence, for what no rule leans on or a mark that is none.

    >>> str(read("in_order", {"number": "state plan, step order", "mark": "utility rule"}))
    'state plan, step order (utility rule)'
    """
    if name not in FEDERAL:
        raise ValueError(f"no rule leans on a clause «{name}»")
    if not said.get("number") or set(said) - {"number", "mark", "duty"}:
        raise ValueError(f"clause «{name}» has a number, a mark and at most a duty")
    mark = next((one for one in get_args(Mark) if one == said.get("mark")), None)
    if mark is None:
        raise ValueError(f"the mark of clause «{name}» is one of: {', '.join(get_args(Mark))}")
    return Clause(said["number"], said.get("duty") or FEDERAL[name].duty, mark)
