"""A refusal is a value: what is refused, about what, in one sentence, by which clause, and the way past."""

from dataclasses import dataclass

from .clauses import Clause


@dataclass(frozen=True, slots=True)
class Refusal:
    """`code` is stable and for machines, `about` names the device, person or clearance, `text` is the
    sentence for a person.

    `way_past` says what would change the answer. It is never an override: it is to do the missing thing or to
    correct the picture.
    """

    code: str
    about: str
    text: str
    clause: Clause
    way_past: str
