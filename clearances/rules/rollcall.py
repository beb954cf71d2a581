"""The roll-call before a close: a live yes of every holder; silence is a no."""

import datetime

from .clauses import ROLL_CALL
from .facts import Hit, Step
from .refusal import Refusal

# For so long a yes stands; then the holder is asked again (common practice).
ANSWER_STANDS = datetime.timedelta(minutes=15)


def all_have_answered(step: Step, silent: tuple[Hit, ...]) -> tuple[Refusal, ...]:
    """`silent`: the holders whom this close would hit if one report were wrong, and who have not said yes to
    it within `ANSWER_STANDS`.
    """
    return tuple(
        Refusal(
            "holder_silent",
            str(hit.clearance),
            f"{hit.reach} (clearance {hit.clearance}) has not said yes to closing {step.device} "
            f"{step.phases}: {hit.what}.",
            ROLL_CALL,
            f"Call the roll: reach {hit.holder}, who looks that everybody is clear and says yes. Silence is "
            "a no.",
        )
        for hit in silent
    )
