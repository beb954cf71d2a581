"""May this step be given now?"""

from .clauses import (
    ALL_OPENED,
    AS_LEFT,
    LIFE_SUPPORT,
    LIKE_PHASES,
    ONE_STEP,
    PICK_UP,
    PICTURE,
    REENERGIZE,
    SECOND_PERSON,
    TAG_AFTER_RELEASE,
)
from .facts import Clearance, Hit, Step, StepOut, Tag
from .protections import NOTHING, AtDevice, may_operate
from .refusal import Refusal
from .rollcall import all_have_answered
from .words import in_order, letters


def may_give_step(
    clearance: Clearance,
    step: Step,
    *,
    tags_at_device: tuple[Tag, ...],
    open_now: str,
    held_by: tuple[Hit, ...] = (),
    hits: tuple[Hit, ...] = (),
    out_there: tuple[StepOut, ...] = (),
    uncounted: tuple[str, ...] = (),
    joins: tuple[str, ...] = (),
    silent: tuple[Hit, ...] = (),
    beside: AtDevice = NOTHING,
    feeds: tuple[Hit, ...] = (),
) -> tuple[Refusal, ...]:
    """One step at a time, from a checked order, and nothing closed while a tag, a ground or a person is left.

    `tags_at_device`: every live tag of any clearance at the step's device; `open_now`: phases of that device
    that stand open; `held_by`: clearances out that have this device as a point, tagged or not; `hits`: for a
    close, every clearance out whose limits, and every ground set, that it would energize with all devices as
    reported; `out_there`: steps of other orders given at this device; `uncounted`: addresses that the step
    takes out although nobody counted them when the order was checked; `joins`: for a close, what it would
    join that may never be joined, in words; `silent`: for a close, the holders who have not answered the
    roll-call; `beside`: what stands at the device that is no clearance; `feeds`: for an opening, the other
    clearances that have load picked up by the device.
    """
    out: list[Refusal] = [*may_operate(step, beside, hits)]
    for other_step in out_there:
        out.append(
            Refusal(
                "device_being_operated",
                step.device,
                f"{step.device} is being operated: step {other_step.place} of order {other_step.order} is "
                f"given to {other_step.given_to} and not yet reported.",
                ONE_STEP,
                "Have that step reported, or call it back before anything is operated.",
            )
        )
    if uncounted:
        named = ", ".join(uncounted[:3]) + (" and others" if len(uncounted) > 3 else "")
        out.append(
            Refusal(
                "customers_not_counted",
                step.device,
                f"This step would take out {len(uncounted)} customers whom nobody counted when the order "
                f"was checked: {named}.",
                LIFE_SUPPORT,
                "The network has changed since: take the check back and have the order checked again."
                if step.half == "isolate"
                else "Put back first what feeds them, or write the way back again: a tie may have to stay "
                "closed.",
            )
        )
    for fed in feeds:
        out.append(
            Refusal(
                "tie_in_use",
                step.device,
                f"{step.device} can't be ordered open: clearance {fed.clearance} ({fed.reach}) has load "
                "picked up by it.",
                PICK_UP,
                "Leave the step out: the order of that clearance opens it, or wait until it is done.",
            )
        )
    hit = {one.clearance for one in hits}  # refused outright
    out += all_have_answered(step, tuple(one for one in silent if one.clearance not in hit))
    for joined in joins:
        out.append(
            Refusal(
                "joins_unlike_phases",
                step.device,
                f"{step.device} can't be ordered closed: {joined}.",
                LIKE_PHASES,
                f"Leave {step.device} open and write the way back again; or have both sides looked at and "
                "reported, and the network corrected.",
            )
        )
    if clearance.order_state != "checked":
        out.append(
            Refusal(
                "order_not_checked",
                str(clearance.number),
                f"Order {clearance.number} is {clearance.order_state}; no step may be given.",
                SECOND_PERSON,
                "Have a second person check the order as it stands.",
            )
        )
    for other in clearance.steps:
        if other.state == "given":
            out.append(
                Refusal(
                    "step_unreported",
                    other.device,
                    f"Step {other.place} ({other.device} {other.phases}) is given and not yet reported.",
                    ONE_STEP,
                    "Have it reported, or call it back before anything is operated.",
                )
            )
    for other in clearance.half(step.half):
        if other.place < step.place and other.state == "waiting":
            out.append(
                Refusal(
                    "step_out_of_order",
                    other.device,
                    f"Step {other.place} ({other.device} {other.phases}) comes before step {step.place}.",
                    ONE_STEP,
                    f"Give step {other.place} first.",
                )
            )
            break
    out += _device_as_left(step)
    out += (
        _isolate(clearance, step, open_now)
        if step.half == "isolate"
        else _restore(clearance) + _on_the_network_as_left(clearance, clearance.changes)
    )
    if step.operation == "close":
        out += _close(clearance, step, tags_at_device, held_by, hits)
    return tuple(out)


def as_it_stands(operation: str, phases: str, open_now: str) -> str:
    """What a step means by the time it is given: what was to be opened and stands open now is checked open.

    The end is the same (open, made inoperable, tagged), so it is no mismatch. The other way round it is one:
    opening what was expected open may take out customers whom nobody counted.

    >>> as_it_stands("open", "AB", "ABC"), as_it_stands("open", "AB", "A"), as_it_stands("close", "AB", "AB")
    ('check_open', 'open', 'close')
    """
    return "check_open" if operation == "open" and set(phases) <= set(open_now) else operation


def _isolate(clearance: Clearance, step: Step, open_now: str) -> list[Refusal]:
    out = []
    for address in clearance.unanswered:
        out.append(
            Refusal(
                "life_support_unanswered",
                address,
                f"Life-support at {address}: no person has answered yet.",
                LIFE_SUPPORT,
                "Reach a person there by telephone or at the door, and enter who answered and what "
                "their plan is.",
            )
        )
    if step.operation == "check_open" and not set(step.phases) <= set(open_now):
        out.append(_not_as_expected(step, "does not stand open on every phase"))
    if step.operation == "close":
        out += _on_the_network_as_left(clearance, clearance.perhaps_built)
    if clearance.state != "asked":
        out.append(
            Refusal(
                "isolate_after_given",
                str(clearance.number),
                f"Clearance {clearance.number} is {clearance.state}; its isolate half is over.",
                ALL_OPENED,
                "Ask for a new clearance for what is still to be opened.",
            )
        )
    return out


def _restore(clearance: Clearance) -> list[Refusal]:
    if clearance.state in ("released", "withdrawn"):
        return []
    return [
        Refusal(
            "not_released",
            str(clearance.number),
            f"Clearance {clearance.number} is not released by {clearance.holder}: no tag comes off "
            "and nothing is closed.",
            TAG_AFTER_RELEASE,
            f"{clearance.holder} releases it, with every ground set and every person off the line.",
        )
    ]


def _close(
    clearance: Clearance,
    step: Step,
    tags: tuple[Tag, ...],
    held_by: tuple[Hit, ...],
    hits: tuple[Hit, ...],
) -> list[Refusal]:
    """Of either half: in the isolate half load is picked up by a tie."""
    out = []
    for tag in tags:
        reach = f", {tag.phone}" if tag.phone else ""
        promised = f", promised {tag.promised}" if tag.promised else ""
        out.append(
            Refusal(
                "tag_at_point",
                step.device,
                f"{step.device} can't be ordered closed: tag {tag.number} is on it "
                f"(clearance {tag.clearance}, {tag.holder}{reach}{promised}).",
                REENERGIZE,
                f"Clearance {tag.clearance} is released by its holder and tag {tag.number} is reported off.",
            )
        )
    tagged = {tag.clearance for tag in tags}
    for hold in held_by:
        if hold.clearance not in tagged:
            out.append(
                Refusal(
                    "point_held",
                    step.device,
                    f"{step.device} can't be ordered closed: clearance {hold.clearance} ({hold.reach}) "
                    "is out on it, though no tag is reported there.",
                    REENERGIZE,
                    f"Clearance {hold.clearance} is released by its holder.",
                )
            )
    for label in clearance.grounds:
        out.append(
            Refusal(
                "ground_on",
                label,
                f"{step.device} can't be ordered closed: ground set {label} is on.",
                REENERGIZE,
                "Take it off and report it by its number.",
            )
        )
    # Whoever signed on before the giving is at the briefing, not on the line.
    for name in clearance.people if step.half == "restore" else ():
        out.append(
            Refusal(
                "person_on",
                name,
                f"{step.device} can't be ordered closed: {name} is signed on under clearance "
                f"{clearance.number}.",
                REENERGIZE,
                f"{name} gets off the line and signs off.",
            )
        )
    for hit in hits:
        # Its own people and grounds are named above, who works under something else in `may_operate`.
        if hit.clearance != clearance.number and not hit.other:
            out.append(
                Refusal(
                    "close_energizes",
                    hit.what,
                    f"Closing {step.device} {step.phases} would energize {hit.what} (clearance "
                    f"{hit.clearance}, {hit.reach}).",
                    REENERGIZE,
                    f"{hit.holder} has the people and grounds off and releases clearance "
                    f"{hit.clearance}, or another way back is found.",
                )
            )
    return out


def _not_as_expected(step: Step, what: str) -> Refusal:
    return Refusal(
        "position_not_as_expected",
        step.device,
        f"{step.device} {step.phases} {what} on the board, so step {step.place} does not follow.",
        PICTURE,
        "Have the position looked at and reported, then write the order again.",
    )


def _device_as_left(step: Step) -> list[Refusal]:
    """A device whose tap has moved since the order was written is not operated by its old phases."""
    gone = in_order(set(step.phases) - set(step.has)) if step.has else ""
    if not gone or step.operation == "remove_tag":
        return []
    text = (
        f"Step {step.place} is for {step.device} {letters(step.phases)}, which has {letters(step.has)} now."
    )
    return [
        Refusal(
            "phases_not_as_left",
            step.device,
            text,
            AS_LEFT,
            "Write the order again on the network as it was left; a close that is not needed is left out.",
        )
    ]


def _on_the_network_as_left(clearance: Clearance, changes: tuple[str, ...]) -> list[Refusal]:
    """What the work has left behind, or an earlier stage may have, and nobody has confirmed."""
    return [
        Refusal(
            "change_not_confirmed",
            str(clearance.number),
            f"{change}: nothing is closed and no tag comes off before the board knows how it was built.",
            AS_LEFT,
            f"{clearance.holder} confirms it as built or marks it not done; what was built otherwise is "
            "entered.",
        )
        for change in changes
    ]
