"""What a reported position does to the customers: who lost and who regained the normal supply, by which work
or in which trouble, and what they are told.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from circuits import positions, snapshot
from circuits.core.standing import also_open
from circuits.core.trace import Trace, trace
from circuits.locks import one_after_the_other

from . import notices, troubles
from .at_device import there
from .models import Clearance, Interruption

_LOCK = 0x706F73  # "pos"


@dataclass(frozen=True, slots=True)
class Effect:
    """Premises that lost (`off`) and regained (`back`) their normal supply by one report; the trouble that it
    began or joined.
    """

    off: tuple[str, ...]
    back: tuple[str, ...]
    trouble: int | None = None

    @property
    def words(self) -> str:
        parts = [
            f"{len(self.off)} customers off" if self.off else "",
            f"trouble {self.trouble}" if self.trouble else "",
            f"{len(self.back)} customers back" if self.back else "",
        ]
        return "; ".join(part for part in parts if part)


def lost_supply(open_phases: Mapping[str, str]) -> dict[str, bool]:
    """Premises that do not have their normal supply, and whether it is wholly out; else they are on part of
    their phases or on a voltage that is not known.
    """
    return {premises: state.out for premises, state in _traced(open_phases).not_energized().items()}


def _traced(open_phases: Mapping[str, str]) -> Trace:
    """Phases of a written step or a point may be gone since, with a tap that has moved: then all count that
    its device has now.
    """
    compiled = snapshot.compiled()
    known = compiled.network.device
    opened = {
        one: there(compiled, one, phases) for one, phases in open_phases.items() if phases and one in known
    }
    return trace(compiled, opened)


def without_supply(open_phases: Mapping[str, str]) -> set[str]:
    """Premises that do not have their normal supply, wholly or in part."""
    return set(_traced(open_phases).without_supply())


def loses(before: Mapping[str, str], after: Mapping[str, str]) -> set[str]:
    """Premises that have their normal supply before and not after."""
    return without_supply(after) - without_supply(before)


def newly_without(more: Mapping[str, str], stands: Mapping[str, str] | None = None) -> set[str]:
    """Premises that lose their normal supply when `more` opens, on what stands open now or on `stands`."""
    before = positions.open_phases() if stands is None else stands
    return loses(before, also_open(before, more))


def record(
    *,
    device_id: str,
    phases: str,
    position: str,
    said_by: str,
    how: str,
    done_at: datetime.datetime,
    reported_at: datetime.datetime,
    ordered_at: datetime.datetime | None = None,
    made_inoperable: str = "",
    operable: bool = False,
    irregular: str = "",
    clearance: Clearance | None = None,
) -> Effect:
    """Store a reported position and all that follows from it for customers, in the caller's transaction.

    The set of interruptions is brought to what the trace says now, so a late report or a correction ends in
    the same place. One report after the other: two that can't see each other would each find the customers
    still fed from the other side. A clock that runs ahead must not outrank what is reported later, so nothing
    counts as done after it was reported; the log keeps the time as it was said.
    """
    one_after_the_other(_LOCK)
    done_at = min(done_at, reported_at)
    positions.record(
        device_id=device_id,
        phases=phases,
        position=position,
        made_inoperable=made_inoperable,
        operable=operable,
        said_by=said_by,
        how=how,
        ordered_at=ordered_at,
        done_at=done_at,
        reported_at=reported_at,
        irregular=irregular,
    )
    return _follow(device_id, at=done_at, clearance=clearance)


def record_dropped(
    *,
    device_id: str,
    phases: str,
    said_by: str,
    how: str,
    closed_at: datetime.datetime,
    dropped_at: datetime.datetime,
    reported_at: datetime.datetime,
    ordered_at: datetime.datetime | None,
    irregular: str,
    clearance: Clearance | None,
) -> Effect:
    """Store a close that did not hold, both halves of it: the device stands open, and nobody is told that
    power is back who had it for a moment.
    """
    one_after_the_other(_LOCK)
    closed_at, dropped_at = min(closed_at, reported_at), min(dropped_at, reported_at)
    for position, at in (("closed", closed_at), ("open", dropped_at)):
        positions.record(
            device_id=device_id,
            phases=phases,
            position=position,
            operable=True,
            said_by=said_by,
            how=how,
            ordered_at=ordered_at,
            done_at=at,
            reported_at=reported_at,
            irregular=irregular,
        )
    return _follow(device_id, at=dropped_at, clearance=clearance)


def of_a_change(*, done_at: datetime.datetime, clearance: Clearance) -> Effect:
    """What a change of the network does to customers, in the caller's transaction."""
    one_after_the_other(_LOCK)
    return _follow("", at=done_at, clearance=clearance)


def _follow(device_id: str, *, at: datetime.datetime, clearance: Clearance | None) -> Effect:
    """Bring the interruptions to what the trace says now: planned where a clearance is behind it, else in a
    trouble.
    """
    stands = positions.open_phases()
    now_without = lost_supply(stands)
    standing = {row.premises_id: row for row in Interruption.objects.select_for_update().filter(on_at=None)}
    off = sorted(set(now_without) - set(standing))
    back = sorted(set(standing) - set(now_without))
    trouble = (
        troubles.of(device_id, off, at=at, stands=stands, loses=newly_without)
        if off and clearance is None
        else None
    )
    begun = Interruption.objects.bulk_create(
        Interruption(premises_id=premises, clearance=clearance, trouble=trouble, off_at=at)
        for premises in off
    )
    notices.tell_off(begun, unknown={premises for premises in off if not now_without[premises]})
    ended = [standing[premises] for premises in back]
    for row in ended:
        row.on_at = max(at, row.off_at)
    Interruption.objects.bulk_update(ended, ["on_at"])
    troubles.end(ended)
    notices.tell_back(ended)
    return Effect(tuple(off), tuple(back), trouble.pk if trouble else None)
