"""May this person ask for a clearance, with this window?"""

import datetime

from .clauses import BRIEFED, ONE_IN_CHARGE, SEPARATE_CREWS
from .facts import Hit
from .refusal import Refusal


def may_ask(
    *,
    holder: str,
    qualified: bool,
    window_start: datetime.datetime,
    promised_end: datetime.datetime,
    latest_finish: datetime.datetime,
    now: datetime.datetime,
    same_limits: tuple[Hit, ...] = (),
) -> tuple[Refusal, ...]:
    """The holder is qualified through the latest finish, and the window stands in order and ahead.

    `same_limits`: clearances of other crews with limits in common in a window that meets this one, as long as
    the asker has not said that this crew has a clearance of its own.
    """
    out = []
    for other in same_limits:
        out.append(
            Refusal(
                "same_limits",
                str(other.clearance),
                f"Clearance {other.clearance} ({other.reach}) has limits in common with these, {other.what}, "
                "in the same hours.",
                SEPARATE_CREWS,
                f"Sign on under clearance {other.clearance}, with {other.holder} in charge for all; or say "
                "that your crew has a clearance of its own, with its own tag at every point.",
            )
        )
    if not qualified:
        out.append(
            Refusal(
                "holder_not_qualified",
                holder,
                f"{holder} is not qualified to hold a clearance through the latest finish.",
                ONE_IN_CHARGE,
                "Name a holder whose qualification covers the window, or have the qualification entered "
                "by the line supervisor.",
            )
        )
    if not window_start < promised_end <= latest_finish:
        out.append(
            Refusal(
                "window_out_of_order",
                holder,
                "The start, the promised end and the latest finish do not follow one another.",
                BRIEFED,
                "Correct the times.",
            )
        )
    if promised_end <= now:
        out.append(
            Refusal(
                "window_past",
                holder,
                "The promised end is already past.",
                BRIEFED,
                "Ask for a window that lies ahead.",
            )
        )
    return tuple(out)
