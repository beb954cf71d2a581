"""What one operation of a device would do, on the network in use as it is reported to stand, now or at a past
time.
"""

import datetime
from dataclasses import dataclass

from django.utils import timezone
from django.utils.formats import date_format

from circuits import positions, snapshot
from circuits.core.whatif import WhatIf, what_if
from circuits.models import NetworkRevision

ASSUMPTIONS = (
    "A phase that nobody has reported counts as standing in its normal position.",
    "Nothing is asked here of tags, people, ground sets or load, and nothing is allowed by an answer.",
    "Only what is on record and reported is known; no answer makes a line de-energized.",
)


# No report is older: before it no clock of this board has stood.
EARLIEST = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)


class CannotSayError(ValueError):
    """Why the question has no answer, in a sentence."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The answer, and in a sentence what it was computed from."""

    found: WhatIf
    computed_from: str
    assumptions: tuple[str, ...] = ASSUMPTIONS


def ask(*, device: str, phases: str = "", operation: str, at: datetime.datetime | None = None) -> Asked:
    """What would change if these phases of a device (all that it has, if none is named) were opened or
    closed.

    `at` is a past time: the devices stand as what was done until then says, whenever it was reported, on the
    network of that time. Raises CannotSayError for a device or phase that is not there, another operation
    than "open" and "close", and a time to come or long past. Cost: four queries and two traces.
    """
    now = timezone.now()
    if at is not None and at > now:
        raise CannotSayError(
            f"{_said(at)} is still to come: only the present network is known, and what was reported of it."
        )
    if at is not None and at < EARLIEST:
        raise CannotSayError(f"Nothing is known of the year {at.year}.")
    compiled = snapshot.compiled() if at is None else snapshot.at(at)
    known = compiled.network.device.get(device)
    if known is None:
        raise CannotSayError(
            f"There is no device {device} on the network{' in use' if at is None else ' of that time'}."
        )
    try:
        found = what_if(
            compiled,
            positions.open_phases(at=at, network=compiled.network),
            device,
            phases or known.phases,
            operation,
        )
    except ValueError as error:
        words = str(error)
        raise CannotSayError(f"{words[0].upper()}{words[1:]}.") from None
    return Asked(found, computed_from(compiled.network.revision, at, now))


def computed_from(revision: int, at: datetime.datetime | None, now: datetime.datetime) -> str:
    imported_at = NetworkRevision.objects.get(pk=revision).imported_at
    network = f"Network revision {revision}, imported {_said(imported_at)}"
    if at is None:
        return f"{network}; positions as reported until {_said(now)}."
    later = " No network is on record of that time; this is the first." if imported_at > at else ""
    return f"{network}; positions by what was done until {_said(at)}, as reported until {_said(now)}.{later}"


def _said(at: datetime.datetime) -> str:
    return date_format(timezone.localtime(at), "D j M Y H:i")
