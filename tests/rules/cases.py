"""A clearance as the rules see it, with nothing against it, and how a refusal of it is put to the test.

The crews, devices and numbers are those of the demo network. A clause and its mark are written out in each
case as a person would look them up; where they come from is said in `clearances.rules.clauses`.
"""

from dataclasses import dataclass, replace
from typing import Any

from clearances.rules.facts import Clearance, Path, Point, Step
from clearances.rules.refusal import Refusal

Refusals = tuple[Refusal, ...]

C208 = Point("C-208", "ABC", "41-1", open="ABC", inoperable="ABC", tagged="ABC")
C221 = Point("C-221", "ABC", "41-2", open="ABC", inoperable="ABC", tagged="ABC")
BY_C221 = Path("ST-1", "ABC", "feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-218 (phases A, B, C)")

ISOLATE = (
    Step("isolate", 1, "open", "C-208", "ABC", "waiting", "41-1"),
    Step("isolate", 2, "open", "C-221", "ABC", "waiting", "41-2"),
)
RESTORE = (
    Step("restore", 3, "remove_tag", "C-221", "ABC", "waiting", "41-2"),
    Step("restore", 4, "close", "C-221", "ABC", "waiting", "41-2"),
    Step("restore", 5, "remove_tag", "C-208", "ABC", "waiting", "41-1"),
    Step("restore", 6, "close", "C-208", "ABC", "waiting", "41-1"),
)


def clearance(**changes: Any) -> Clearance:
    """Clearance 41 of Ana Duarte: order checked, both points reported, and `changes`."""
    ready = Clearance(
        number=41,
        state="asked",
        holder="Ana Duarte",
        now_holds=True,
        order_state="checked",
        points=(C208, C221),
        steps=ISOLATE + RESTORE,
    )
    return replace(ready, **changes)


def with_states(steps: tuple[Step, ...], *states: str) -> tuple[Step, ...]:
    """The steps with these states, the rest as they are."""
    changed = tuple(replace(step, state=state) for step, state in zip(steps, states, strict=False))
    return changed + steps[len(states) :]


@dataclass(frozen=True)
class Case:
    """`refused` is the rule's answer to what is wrong, `mended` its answer after the named way past was gone.

    `text` is the sentence in full, `way_past` a part of the way that must be named.
    """

    code: str
    refused: Refusals
    mended: Refusals
    about: str
    text: str
    clause: str
    mark: str
    way_past: str

    def __str__(self) -> str:
        return self.code

    def check(self) -> None:
        """Exactly one refusal, which says who or what blocks, by which rule, and what would change it."""
        (refusal,) = self.refused
        assert (refusal.code, refusal.about, refusal.text) == (self.code, self.about, self.text)
        assert str(refusal.clause) == f"{self.clause} ({self.mark})"
        assert self.way_past in refusal.way_past
        assert self.mended == ()
