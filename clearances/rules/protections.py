"""What stands at a device and is no clearance, and what that means for an order to operate it.

Three kinds, which never merge with a clearance or with each other: a hot-line hold (a crew works energized
beyond the device, reclosing is off), a customer's do-not-operate (the device is kept open for a customer's
worker), and a field clearance (one crew behind its own disconnect, no desk order).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from .clauses import DO_NOT_OPERATE, FIELD_CLEARANCE, HOT_LINE_HOLD, REENERGIZE
from .facts import Hit, Step
from .refusal import Refusal


@dataclass(frozen=True, slots=True)
class HotLineHold:
    """A hold that is out. `answered`: its holder has said, lately, whether they stand down or stay when the
    device is opened; `agreed`: lately, and since it was last reported open, that it may be closed.
    """

    number: str
    holder: str
    phone: str
    answered: bool = False
    agreed: bool = False

    @property
    def reach(self) -> str:
        return f"{self.holder}, {self.phone}" if self.phone else self.holder


@dataclass(frozen=True, slots=True)
class DoNotOperate:
    """A device kept open in the name of somebody who is not on the board."""

    number: str
    name: str
    employer: str
    phone: str


@dataclass(frozen=True, slots=True)
class FieldClearance:
    number: str
    holder: str
    phone: str


@dataclass(frozen=True, slots=True)
class AtDevice:
    """All of the three kinds that stands at one device."""

    holds: tuple[HotLineHold, ...] = ()
    do_not_operates: tuple[DoNotOperate, ...] = ()
    field_clearances: tuple[FieldClearance, ...] = ()


NOTHING = AtDevice()


def may_operate(step: Step, other: AtDevice, hits: tuple[Hit, ...] = ()) -> tuple[Refusal, ...]:
    """What the three kinds have against an order at their device, and against a close that would put voltage
    on whoever works under one of them elsewhere (`hits`).

    A hold asks for its holder's word, which is a call away; the others have no answer but their end.
    """
    return (*_field_clearance(step, other), *_holds(step, other), *_closing(step, other, hits))


def _field_clearance(step: Step, other: AtDevice) -> Iterator[Refusal]:
    for one in other.field_clearances:
        yield Refusal(
            "under_field_clearance",
            step.device,
            f"{step.device} is under the sole control of {one.holder}, {one.phone} (field clearance "
            f"{one.number}): no order operates it.",
            FIELD_CLEARANCE,
            f"{one.holder} has everybody off and ends field clearance {one.number}.",
        )


def _holds(step: Step, other: AtDevice) -> Iterator[Refusal]:
    for one in other.holds:
        if step.operation == "open" and not one.answered:
            yield Refusal(
                "hold_not_asked",
                step.device,
                f"{step.device} can't be ordered open: beyond it {one.reach}, works energized under hot-line "
                f"hold {one.number} and has not said lately whether they stand down or stay.",
                HOT_LINE_HOLD,
                f"Call {one.reach}, and enter the answer.",
            )
        if step.operation == "close" and not one.agreed:
            yield Refusal(
                "hold_not_reached",
                step.device,
                f"{step.device} can't be ordered closed, nor test closed: beyond it {one.reach}, works under "
                f"hot-line hold {one.number} and has not said yes to it.",
                HOT_LINE_HOLD,
                f"Reach {one.reach}, and enter the yes.",
            )


def _closing(step: Step, other: AtDevice, hits: tuple[Hit, ...]) -> Iterator[Refusal]:
    if step.operation != "close":
        return
    for one in other.do_not_operates:
        yield Refusal(
            "do_not_operate",
            step.device,
            f"{step.device} can't be ordered closed: do-not-operate {one.number} is on it for {one.name} of "
            f"{one.employer}, {one.phone}.",
            DO_NOT_OPERATE,
            f"{one.name} gives it back, met on site, and nobody else.",
        )
    here = {one.number for one in other.holds}
    for hit in hits:
        if hit.other.startswith("field clearance"):
            yield Refusal(
                "close_energizes_field_clearance",
                hit.what,
                f"Closing {step.device} {step.phases} would energize {hit.what} ({hit.under}, {hit.reach}).",
                REENERGIZE,
                f"{hit.holder} has everybody off and ends {hit.under}, or another way back is found.",
            )
        elif hit.other and not hit.agreed and hit.other.rpartition(" ")[2] not in here:
            yield Refusal(
                "close_energizes_hold",
                hit.what,
                f"Closing {step.device} {step.phases} would energize {hit.what} ({hit.under}, {hit.reach}).",
                HOT_LINE_HOLD,
                f"Reach {hit.reach}, and enter the yes.",
            )
