"""Whether the person in charge can be in charge there: at one site at a time, and told of it."""

import datetime
from dataclasses import dataclass

from .clauses import EXCHANGED, ONE_SITE
from .refusal import Refusal


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Another clearance of the same holder whose limits share no pole with these: where it is, in words, and
    its hours in local time."""

    clearance: int
    where: str
    start: datetime.datetime
    end: datetime.datetime


def may_be_in_charge(
    number: int, holder: str, *, elsewhere: tuple[Elsewhere, ...], uninformed_of: str | None
) -> tuple[Refusal, ...]:
    """May this holder be given clearance `number`?

    `elsewhere`: the holder's clearances that are out at another site. Two with a pole in common (two circuits
    on one pole) are one site. `uninformed_of`: the employer of a contractor with whom no exchange is recorded
    for this clearance, "" where it is not on record who that is; None for the utility's own people, and once
    it is recorded.
    """
    out = [
        Refusal(
            "holder_elsewhere",
            str(one.clearance),
            f"{holder} holds clearance {one.clearance} ({one.where}), which has no pole in common with "
            f"clearance {number}: nobody is in charge at two sites at once.",
            ONE_SITE,
            f"{holder} releases clearance {one.clearance} first, or somebody else asks for this work; other "
            "hours do as well.",
        )
        for one in elsewhere
    ]
    if uninformed_of is not None:
        employer = uninformed_of or "an employer who is not on record"
        out.append(
            Refusal(
                "not_exchanged",
                holder,
                f"{holder} works for {employer}, and it is not recorded that the utility and the contractor "
                "have told each other what they know of the site and of the hazards.",
                EXCHANGED,
                "Tell each other and record it; or a person of the utility asks for the clearance, holds it "
                "and stays at the site (common practice).",
            )
        )
    return tuple(out)


def said_at_asking(holder: str, elsewhere: tuple[Elsewhere, ...]) -> str:
    """What somebody who asks is told of other clearances in the same hours, asked for or out; "" of none."""
    return "".join(
        f" {holder} also has clearance {one.clearance} ({one.where}), {one.start:%d %b %H:%M} to "
        f"{one.end:%H:%M}, with no pole in common: this one is not given while that one is out."
        for one in elsewhere
    )


def may_record_exchange(holder: str, *, is_holder: bool, in_full: bool, ahead: bool) -> tuple[Refusal, ...]:
    """The exchange is recorded by somebody else than the holder whom it lets begin, with what each side told
    and with whom, once it has taken place (not `ahead`)."""
    out = []
    if is_holder:
        out.append(
            Refusal(
                "own_exchange",
                holder,
                f"{holder} can't record the exchange for a clearance of their own.",
                EXCHANGED,
                "Whoever told them for the utility records it.",
            )
        )
    if not in_full:
        out.append(
            Refusal(
                "exchange_in_part",
                holder,
                "It is not said in full: with whom, what the utility told, and what the contractor told.",
                EXCHANGED,
                "Write down all three.",
            )
        )
    if ahead:
        out.append(
            Refusal(
                "exchange_ahead",
                holder,
                "The time at which they told each other lies ahead.",
                EXCHANGED,
                "Record it when it has taken place.",
            )
        )
    return tuple(out)
