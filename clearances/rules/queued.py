"""What a telephone may send after it had no signal: observations, never what binds by being said now."""

from .clauses import LIVE_WORD
from .refusal import Refusal

# What was seen or done stays so an hour later. Not here: whatever gives, accepts, releases, orders, agrees,
# promises or answers, and what means "now" by itself (open_now).
MAY_WAIT = frozenset(
    {
        "report_step",
        "report_position",
        "report_wrong_device",
        "report_stuck",
        "report_blown",
        "report_half_bright",
        "report_patrol",
        "report_test",
        "ground_on",
        "ground_off",
        "sign_on",
        "sign_off",
        "remark",
    }
)


def may_come_late(name: str, *, late: bool) -> tuple[Refusal, ...]:
    """`late`: it waited in the telephone.

    >>> [one.code for one in may_come_late("release_clearance", late=True)]
    ['not_from_a_queue']
    """
    if not late or name in MAY_WAIT:
        return ()
    text = f"«{name}» waited in the telephone: it is not done by what was pressed before."
    way = "Call the desk, look at how things stand now, then press again."
    return (Refusal("not_from_a_queue", name, text, LIVE_WORD, way),)
