"""May this clearance be given, and accepted?"""

from .clauses import ALL_OPENED, IN_ORDER, ONE_IN_CHARGE, SECOND_PERSON
from .facts import Clearance
from .refusal import Refusal
from .words import in_order, letters


def may_give(clearance: Clearance) -> tuple[Refusal, ...]:
    """Only when no source reaches the limits through anything but reported, inoperable and tagged opens.

    The trace decides (`clearance.paths`: every device taken as closed but the blocking phases of the points).
    The sentences about single
    points come on top, because they say what to do; without a live path a point that is short of something
    still refuses.
    """
    out: list[Refusal] = []
    if clearance.state != "asked":
        out.append(
            Refusal(
                "not_asked",
                str(clearance.number),
                f"Clearance {clearance.number} is {clearance.state}.",
                IN_ORDER,
                "Look at the clearance as it stands.",
            )
        )
    if clearance.order_state != "checked":
        out.append(
            Refusal(
                "order_not_checked",
                str(clearance.number),
                f"Order {clearance.number} is {clearance.order_state}.",
                SECOND_PERSON,
                "Have a second person check the order.",
            )
        )
    if not clearance.now_holds:
        out.append(
            Refusal(
                "holder_not_qualified",
                clearance.holder,
                f"{clearance.holder} is not qualified to hold a clearance today.",
                ONE_IN_CHARGE,
                "Ask for the clearance again in the name of somebody who is.",
            )
        )
    for path in clearance.paths:
        out.append(
            Refusal(
                "source_not_blocked",
                path.source,
                f"Phase {letters(path.phases)} is still fed: {path.words}.",
                ALL_OPENED,
                "Open, make inoperable and tag a device on that way, or have somebody look and report "
                "that the way is not there.",
            )
        )
    if not clearance.points:
        out.append(
            Refusal(
                "no_points",
                str(clearance.number),
                "No isolation point is chosen.",
                ALL_OPENED,
                "Choose the points and write the order.",
            )
        )
    for point in clearance.points:
        blocking = point.blocking
        if blocking == in_order(point.phases):
            continue
        short = [
            f"{name} {len(have)} of {len(point.phases)}"
            for name, have in (
                ("open", point.open),
                ("inoperable", point.inoperable),
                ("tagged", point.tagged),
            )
            if not set(point.phases) <= set(have)
        ]
        out.append(
            Refusal(
                "point_not_complete",
                point.device,
                f"{point.device} is reported {', '.join(short)}.",
                ALL_OPENED,
                f"Have the rest of {point.device} reported: open, made inoperable, tag "
                f"{point.tag_number} hung.",
            )
        )
    return tuple(out)


def may_accept(clearance: Clearance, *, is_holder: bool, read_back: str) -> tuple[Refusal, ...]:
    """By the named holder, in words, after it was given."""
    out: list[Refusal] = []
    if clearance.state != "given":
        out.append(
            Refusal(
                "not_given",
                str(clearance.number),
                f"Clearance {clearance.number} is {clearance.state}, so it can't be accepted.",
                IN_ORDER,
                "The desk gives it first.",
            )
        )
    if not is_holder:
        out.append(
            Refusal(
                "not_the_holder",
                clearance.holder,
                f"Only {clearance.holder}, who asked for it, can accept clearance {clearance.number}.",
                ONE_IN_CHARGE,
                f"{clearance.holder} accepts on their own device, or by voice with the desk writing "
                "down the words.",
            )
        )
    if not read_back.strip():
        out.append(
            Refusal(
                "no_read_back",
                clearance.holder,
                "The limits and points have not been read back.",
                ONE_IN_CHARGE,
                "Read back the limits and every point, and write down the words.",
            )
        )
    return tuple(out)
