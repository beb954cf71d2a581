"""May a crew work under a field clearance here, and end it?

29 CFR 1910.269(m)(2)(ii) and (iii) (seen): no system operator in charge, one crew, its disconnect accessible,
in sight and under the sole control of the employee in charge. Tests for voltage and grounds are not waived.
"""

from .clauses import (
    ALL_OPENED,
    FIELD_CLEARANCE,
    HOLDER_RELEASES,
    ONE_IN_CHARGE,
    RELEASE_DUTIES,
    SEPARATE_CREWS,
)
from .refusal import Refusal
from .words import in_order, letters


def may_start(
    *,
    holder: str,
    qualified: bool,
    device: str,
    phases: str,
    stands_open: str,
    in_sight: bool,
    one_crew: bool,
    ways: tuple[str, ...] = (),
    at_device: tuple[str, ...] = (),
    inside: tuple[str, ...] = (),
) -> tuple[Refusal, ...]:
    """`ways`: how a source still reaches what lies beyond the device with it alone open; `at_device`: what of
    others stands or is under way at the device; `inside`: whose limits, clearances or ground sets lie
    beyond it. `in_sight` and `one_crew` are the holder's own word.
    """
    out = []
    if not qualified:
        out.append(
            Refusal(
                "holder_not_qualified",
                holder,
                f"{holder} is not qualified to hold a clearance today.",
                ONE_IN_CHARGE,
                "Somebody who is takes charge.",
            )
        )
    if closed := in_order(set(phases) - set(stands_open)):
        out.append(
            Refusal(
                "not_open",
                device,
                f"{device} is not reported open on {letters(closed)}.",
                FIELD_CLEARANCE,
                "Open it and report it first.",
            )
        )
    if not in_sight:
        out.append(
            Refusal(
                "not_in_sight",
                device,
                f"{device} is not in sight of the work and under {holder}'s own control.",
                FIELD_CLEARANCE,
                "Ask the desk for a clearance.",
            )
        )
    if not one_crew:
        out.append(
            Refusal(
                "more_than_one_crew",
                device,
                f"More than one crew is to work beyond {device}.",
                SEPARATE_CREWS,
                "Ask the desk for a clearance.",
            )
        )
    for way in ways:
        out.append(
            Refusal(
                "second_source",
                device,
                f"With {device} open a source still reaches what is beyond it: {way}.",
                ALL_OPENED,
                "Ask the desk for a clearance with every point; or have the network corrected, if there is "
                "no such way.",
            )
        )
    for what in at_device:
        out.append(
            Refusal(
                "not_sole_control",
                device,
                f"{device} is not under {holder}'s sole control: {what}.",
                FIELD_CLEARANCE,
                "Ask the desk for a clearance.",
            )
        )
    for what in inside:
        out.append(
            Refusal(
                "others_inside",
                device,
                f"Others work beyond {device}: {what}.",
                SEPARATE_CREWS,
                "Ask the desk for a clearance.",
            )
        )
    return tuple(out)


def may_end(*, number: str, state: str, holder: str, is_holder: bool, all_off: bool) -> tuple[Refusal, ...]:
    """By the employee in charge only, with everybody and every ground set off."""
    out = []
    if state != "on":
        out.append(
            Refusal(
                "ended_before",
                number,
                f"Field clearance {number} was ended before.",
                FIELD_CLEARANCE,
                "Look at it as it stands.",
            )
        )
    if not is_holder:
        out.append(
            Refusal(
                "not_the_holder",
                holder,
                f"Field clearance {number} is {holder}'s: nobody else ends it.",
                HOLDER_RELEASES,
                f"{holder} ends it, or says it by voice and the desk writes it down.",
            )
        )
    if not all_off:
        out.append(
            Refusal(
                "not_all_off",
                holder,
                f"Not everybody and every ground set is off beyond the device of field clearance {number}.",
                RELEASE_DUTIES,
                "Have them off first.",
            )
        )
    return tuple(out)


def no_field_clearance_inside(clearance: int, fields: tuple[tuple[str, str], ...]) -> tuple[Refusal, ...]:
    """Against giving a clearance: a crew works inside its limits under a field clearance (number, reach)."""
    return tuple(
        Refusal(
            "field_clearance_inside",
            number,
            f"Inside the limits of clearance {clearance} {reach}, works under field clearance {number}.",
            SEPARATE_CREWS,
            f"Field clearance {number} is ended by its holder; the crew then has its own clearance or signs "
            "on under this one.",
        )
        for number, reach in fields
    )
