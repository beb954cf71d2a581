"""May this person ask for a clearance, with this window?"""

import datetime

from .clauses import BRIEFED, ONE_IN_CHARGE
from .refusal import Refusal


def may_ask(
    *,
    holder: str,
    qualified: bool,
    window_start: datetime.datetime,
    promised_end: datetime.datetime,
    latest_finish: datetime.datetime,
    now: datetime.datetime,
) -> tuple[Refusal, ...]:
    """The holder is qualified on the day, and the window stands in order and ahead."""
    out = []
    if not qualified:
        out.append(
            Refusal(
                "holder_not_qualified",
                holder,
                f"{holder} is not qualified to hold a clearance on that day.",
                ONE_IN_CHARGE,
                "Name a holder whose qualification covers the day, or have the qualification entered "
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
