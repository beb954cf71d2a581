"""May this hot-line hold be asked for, given, accepted, given back?

Common practice: the federal rule does not ask for a hold where people work energized; it is made from those
of a clearance (29 CFR 1910.269(m)(3)(i), (xi)).
"""

from dataclasses import dataclass

from .clauses import HOT_LINE_HOLD, ONE_IN_CHARGE
from .refusal import Refusal


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold with all that is reported of it. `blocked`: reclosing at the device was last reported off;
    `tagged`: the hold tag was last reported hung at its control; `ordered`: a step at the device is given and
    not yet reported; `fed_too`: a way over which a station feeds the place, and on which neither this device
    nor another one with reclosing off for the same holder lies ("" if there is none).
    """

    number: str
    state: str
    holder: str
    device: str
    now_holds: bool = True
    blocked: bool = False
    tagged: bool = False
    ordered: bool = False
    place: str = ""
    fed_too: str = ""


def may_ask_for_hold(
    *, holder: str, qualified: bool, device: str, closes_by_itself: bool, on_the_way: bool, place: str
) -> tuple[Refusal, ...]:
    """By somebody who may hold a clearance, at a device that can close again by itself or from afar, on a way
    by which the place of the work is fed.
    """
    out = [] if qualified else [_not_qualified(holder)]
    if not closes_by_itself:
        out.append(
            Refusal(
                "nothing_to_block",
                device,
                f"{device} closes neither by itself nor from afar: there is no reclosing to block.",
                HOT_LINE_HOLD,
                "Name the breaker or recloser that would trip for the work.",
            )
        )
    if not on_the_way:
        out.append(
            Refusal(
                "not_on_the_way",
                device,
                f"{place} is not fed through {device}: a hold there would block nothing.",
                HOT_LINE_HOLD,
                "Read the number again, or have the network corrected.",
            )
        )
    return tuple(out)


def _not_qualified(holder: str) -> Refusal:
    return Refusal(
        "holder_not_qualified",
        holder,
        f"{holder} is not qualified to hold a hot-line hold today.",
        ONE_IN_CHARGE,
        "Ask for it in the name of somebody who is.",
    )


def may_give_hold(hold: Hold) -> tuple[Refusal, ...]:
    """When reclosing is reported off and the hold tag hung, and nobody is operating the device."""
    out = []
    if hold.state != "asked":
        out.append(
            Refusal(
                "not_asked",
                hold.number,
                f"Hot-line hold {hold.number} is {_said(hold.state)}.",
                HOT_LINE_HOLD,
                "Look at it as it stands.",
            )
        )
    if not hold.now_holds:
        out.append(_not_qualified(hold.holder))
    if hold.ordered:
        out.append(
            Refusal(
                "device_being_operated",
                hold.device,
                f"A step at {hold.device} is given and not yet reported.",
                HOT_LINE_HOLD,
                "Have that step reported, or call it back before anything is operated.",
            )
        )
    return (*out, *_standing(hold))


def _standing(hold: Hold) -> tuple[Refusal, ...]:
    out = []
    if not hold.blocked:
        out.append(
            Refusal(
                "reclosing_not_off",
                hold.device,
                f"Reclosing at {hold.device} is not reported off.",
                HOT_LINE_HOLD,
                "Have it turned off and reported.",
            )
        )
    if not hold.tagged:
        out.append(
            Refusal(
                "no_hold_tag",
                hold.device,
                f"No hold tag {hold.number} is reported hung at the control of {hold.device}.",
                HOT_LINE_HOLD,
                "Have it hung and reported.",
            )
        )
    if hold.fed_too:
        out.append(
            Refusal(
                "fed_another_way",
                hold.device,
                f"The line at {hold.place} is fed another way than over {hold.device}: {hold.fed_too}. What "
                "trips there would close again.",
                HOT_LINE_HOLD,
                f"Have that way opened, or reclosing on it turned off under a hold of {hold.holder} too.",
            )
        )
    return tuple(out)


def may_accept_hold(hold: Hold, *, is_holder: bool, read_back: str) -> tuple[Refusal, ...]:
    """By the named holder, in words, with reclosing still off and the hold tag still there."""
    out = []
    if hold.state != "given":
        out.append(
            Refusal(
                "not_given",
                hold.number,
                f"Hot-line hold {hold.number} is {_said(hold.state)}, so it can't be accepted.",
                HOT_LINE_HOLD,
                "The desk gives it first.",
            )
        )
    if not is_holder:
        out.append(not_the_holder(hold))
    if not read_back.strip():
        out.append(
            Refusal(
                "no_read_back",
                hold.holder,
                "The device and the place of the work have not been read back.",
                HOT_LINE_HOLD,
                "Read both back, and write down the words.",
            )
        )
    return (*out, *_standing(hold))


def not_the_holder(hold: Hold) -> Refusal:
    return Refusal(
        "not_the_holder",
        hold.holder,
        f"Hot-line hold {hold.number} is {hold.holder}'s: nobody else can answer for it.",
        HOT_LINE_HOLD,
        f"{hold.holder} does it, or says it by voice and the desk writes it down.",
    )


def may_give_back_hold(hold: Hold, *, is_holder: bool, told_everyone: bool) -> tuple[Refusal, ...]:
    """By the holder only, with everybody told that the device may close by itself again."""
    out = []
    if hold.state != "accepted":
        out.append(
            Refusal(
                "not_accepted",
                hold.number,
                f"Hot-line hold {hold.number} is {_said(hold.state)}, so it can't be given back.",
                HOT_LINE_HOLD,
                "Look at it as it stands.",
            )
        )
    if not is_holder:
        out.append(not_the_holder(hold))
    if not told_everyone:
        out.append(
            Refusal(
                "crew_not_told",
                hold.holder,
                "The crew has not been told that reclosing goes back on.",
                HOT_LINE_HOLD,
                "Tell everybody, see them off the conductors, then say so.",
            )
        )
    return tuple(out)


def _said(state: str) -> str:
    """A state as it is said in a sentence.

    >>> _said("given_back")
    'given back'
    """
    return state.replace("_", " ")
