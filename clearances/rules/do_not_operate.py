"""May a customer's do-not-operate be given, and given back?

Common practice (a public utility district's switching manual does the same): no clearance, only the promise
that nobody closes the device until the named person, met on site, has given it back.
"""

from .clauses import DO_NOT_OPERATE
from .refusal import Refusal
from .words import in_order, letters


def may_give_do_not_operate(
    *, device: str, phases: str, stands_open: str, inoperable: str, close_ordered: bool, named: bool
) -> tuple[Refusal, ...]:
    """On a device that is reported open and kept from being closed, for somebody with a name, an employer and
    a telephone.
    """
    out = []
    if closed := in_order(set(phases) - set(stands_open)):
        out.append(
            Refusal(
                "not_open",
                device,
                f"{device} is not reported open on {letters(closed)}.",
                DO_NOT_OPERATE,
                "Have it opened and reported first.",
            )
        )
    elif operable := in_order(set(phases) - set(inoperable)):
        out.append(
            Refusal(
                "operable",
                device,
                f"Nothing is reported that keeps {device} {letters(operable)} from being closed.",
                DO_NOT_OPERATE,
                "Have it made inoperable, and say how.",
            )
        )
    if close_ordered:
        out.append(
            Refusal(
                "close_ordered",
                device,
                f"{device} is ordered closed by a step that is not yet reported.",
                DO_NOT_OPERATE,
                "Have that step reported, or call it back before anything is operated.",
            )
        )
    if not named:
        out.append(
            Refusal(
                "not_named",
                device,
                "For whom it is kept open is not said in full: name, employer and telephone.",
                DO_NOT_OPERATE,
                "Ask the person on site.",
            )
        )
    return tuple(out)


def may_give_back_do_not_operate(
    *, number: str, state: str, name: str, given_back_by: str, met_by: str, met_where: str
) -> tuple[Refusal, ...]:
    """By the named person only, whom somebody of the utility has met on site."""
    out = []
    if state != "given":
        out.append(
            Refusal(
                "given_back_before",
                number,
                f"Do-not-operate {number} was given back before.",
                DO_NOT_OPERATE,
                "Look at it as it stands.",
            )
        )
    if given_back_by.casefold().split() != name.casefold().split():
        out.append(
            Refusal(
                "not_the_named_person",
                number,
                f"Do-not-operate {number} is {name}'s: nobody else gives it back.",
                DO_NOT_OPERATE,
                f"Meet {name} on site.",
            )
        )
    if not (met_by and met_where.strip()):
        out.append(
            Refusal(
                "not_met",
                number,
                f"By whom and where {name} was met is not said.",
                DO_NOT_OPERATE,
                f"Meet {name} on site; a telephone call is no meeting.",
            )
        )
    return tuple(out)
