"""What may be promised to customers who are out without planned work."""

import datetime

from .clauses import CUSTOMERS_HEAR
from .refusal import Refusal


def is_over(number: int, *, ended: str) -> tuple[Refusal, ...]:
    """Nobody is sent and nothing promised once all are back; `ended` is when that was, "" before."""
    if not ended:
        return ()
    text = f"Trouble {number} ended at {ended}: its customers are back."
    way = "Whoever is still out is in no known trouble: take the call."
    return (Refusal("trouble_over", str(number), text, CUSTOMERS_HEAR, way),)


def may_promise(
    number: int,
    *,
    ended: str,
    back_by: datetime.datetime | None,
    next_word_at: datetime.datetime | None,
    now: datetime.datetime,
) -> tuple[Refusal, ...]:
    """A promise of power back by `back_by`, and of the next word by `next_word_at`, both ahead; `ended`: when
    all its customers were back, "" while they are not.
    """
    out = list(is_over(number, ended=ended))
    again = "Write the day and the time again."
    if back_by is not None and back_by <= now:
        text = "Power back by a time that is past."
        out.append(Refusal("promise_past", str(number), text, CUSTOMERS_HEAR, again))
    if next_word_at is not None and next_word_at <= now:
        text = "The next word is promised for a time that is past."
        out.append(Refusal("next_word_past", str(number), text, CUSTOMERS_HEAR, again))
    if back_by is None and next_word_at is None:
        text = f"Neither when power is back nor when trouble {number} is spoken of next is said."
        way = "Say by when customers hear more, though nobody knows when power is back."
        out.append(Refusal("nothing_promised", str(number), text, CUSTOMERS_HEAR, way))
    return tuple(out)
