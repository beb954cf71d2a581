"""May this clearance be released?"""

from .clauses import HOLDER_RELEASES, IN_ORDER, NO_PARTIAL_RELEASE, RELEASE_DUTIES
from .facts import Clearance
from .refusal import Refusal


def may_release(
    clearance: Clearance, *, is_holder: bool, told_everyone: bool, all_off: bool
) -> tuple[Refusal, ...]:
    """By the holder alone, with nobody signed on, no ground set on, and the statements of (m)(3)(x) made."""
    out: list[Refusal] = []
    if clearance.state not in ("accepted", "frozen"):
        out.append(
            Refusal(
                "not_held",
                str(clearance.number),
                f"Clearance {clearance.number} is {clearance.state}; there is nothing to release.",
                IN_ORDER,
                "Look at the clearance as it stands.",
            )
        )
    if not is_holder:
        out.append(
            Refusal(
                "not_the_holder",
                clearance.holder,
                f"Only {clearance.holder} can release clearance {clearance.number}.",
                HOLDER_RELEASES,
                f"Reach {clearance.holder}; the desk can enter the release in that name, as it is said.",
            )
        )
    for label in clearance.grounds:
        out.append(
            Refusal(
                "ground_on",
                label,
                f"Ground set {label} is on.",
                RELEASE_DUTIES,
                "Take it off and report it by its number.",
            )
        )
    for name in clearance.people:
        out.append(
            Refusal(
                "person_on",
                name,
                f"{name} is signed on.",
                RELEASE_DUTIES,
                f"{name} gets off the line and signs off.",
            )
        )
    for following in clearance.next_stages:
        for short in following.short:
            out.append(
                Refusal(
                    "next_stage_unprotected",
                    str(following.clearance),
                    f"Stage {following.stage} (clearance {following.clearance}) follows, and its protection "
                    f"does not stand yet: {short}.",
                    NO_PARTIAL_RELEASE,
                    f"Have order {following.clearance} isolate first, or call stage {following.stage} off.",
                )
            )
    if not (told_everyone and all_off):
        out.append(
            Refusal(
                "statements_missing",
                clearance.holder,
                "The holder has not said that everyone is told and that all are off the line.",
                RELEASE_DUTIES,
                "Tell everyone, see that all are off, then say so.",
            )
        )
    return tuple(out)
