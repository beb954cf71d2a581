"""May this clearance be given, accepted, and worked under again after voltage was found?"""

from .clauses import (
    ALL_OPENED,
    IN_ORDER,
    NO_PARTIAL_RELEASE,
    ONE_IN_CHARGE,
    SECOND_PERSON,
    TEST_AFTER_GIVEN,
)
from .facts import Clearance
from .refusal import Refusal
from .words import are, in_order


def may_give(clearance: Clearance) -> tuple[Refusal, ...]:
    """Only when no source reaches the limits through anything but reported, inoperable and tagged opens.

    The trace decides (`clearance.paths`: every device taken as closed but the blocking phases of the points).
    The sentences about single points come on top, because they say what to do; without a live path a point
    that is short of something still refuses.
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
    for earlier in clearance.earlier_stages:
        out.append(
            Refusal(
                "earlier_stage_out",
                str(earlier.clearance),
                f"Clearance {earlier.clearance} ({earlier.reach}) of an earlier stage of this job is out.",
                NO_PARTIAL_RELEASE,
                f"{earlier.holder} releases clearance {earlier.clearance}; then this one is given.",
            )
        )
    for step in clearance.half("isolate"):
        if not step.tag_number and step.state in ("waiting", "given"):
            out.append(
                Refusal(
                    "pick_up_not_done",
                    step.device,
                    f"Step {step.place} ({step.device} {step.phases}) picks load up and is not reported yet; "
                    f"once clearance {clearance.number} is given, it is not given any more.",
                    IN_ORDER,
                    "Give it and have it reported, or leave the close out: then whoever it was to pick up "
                    "stays out until the end.",
                )
            )
    return (*out, *_protection(clearance))


def may_accept(clearance: Clearance, *, is_holder: bool, read_back: str) -> tuple[Refusal, ...]:
    """By the named holder, in words, after it was given, with the points still as they were given."""
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
    return (*out, *_protection(clearance))


def may_work_again(clearance: Clearance) -> tuple[Refusal, ...]:
    """A frozen clearance: when no source reaches it, and where voltage was found a later test found none."""
    out: list[Refusal] = []
    if clearance.state != "frozen":
        out.append(
            Refusal(
                "not_frozen",
                str(clearance.number),
                f"Clearance {clearance.number} is {clearance.state}, not frozen.",
                IN_ORDER,
                "Look at the clearance as it stands.",
            )
        )
    return (*out, *_voltage_found(clearance), *_still_fed(clearance))


def _still_fed(clearance: Clearance) -> tuple[Refusal, ...]:
    return tuple(
        Refusal(
            "source_not_blocked",
            path.source,
            f"P{are(path.phases)[1:]} still fed: {path.words}.",
            ALL_OPENED,
            "Open, make inoperable and tag a device on that way, or have somebody look and report "
            "that the way is not there.",
        )
        for path in clearance.paths
    )


def _voltage_found(clearance: Clearance) -> tuple[Refusal, ...]:
    return tuple(
        Refusal(
            "voltage_present",
            place,
            f"Voltage was found at {place}, and no later test there without.",
            TEST_AFTER_GIVEN,
            f"Find the source, have it parted, and have {clearance.holder} test at the same pole again, "
            "tester proven before and after.",
        )
        for place in clearance.voltage
    )


def _protection(clearance: Clearance) -> tuple[Refusal, ...]:
    """What stands against relying on the points: asked when the clearance is given, and again when it is
    accepted, because the picture may have changed in between.
    """
    out = [*_still_fed(clearance), *_voltage_found(clearance)]
    for order in clearance.closing:
        out.append(
            Refusal(
                "close_ordered",
                order.device,
                f"Order {order.order} has {order.device} ordered closed, and that is not reported yet.",
                ALL_OPENED,
                f"Have that step of order {order.order} called back before anything is operated; where it is "
                f"already done, have {order.device} opened again and reported.",
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
