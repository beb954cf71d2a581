"""What a reported position does to the customers: who lost and who regained the normal supply, and what they
are told.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from django.db import connection

from circuits import positions, snapshot
from circuits.core.trace import trace

from . import notices
from .models import Clearance, Interruption
from .rules.words import in_order

_LOCK = 0x706F73  # "pos"


@dataclass(frozen=True, slots=True)
class Effect:
    """Premises that lost (`off`) and regained (`back`) their normal supply by one report."""

    off: tuple[str, ...]
    back: tuple[str, ...]

    @property
    def words(self) -> str:
        parts = [
            f"{len(self.off)} customers off" if self.off else "",
            f"{len(self.back)} customers back" if self.back else "",
        ]
        return "; ".join(part for part in parts if part)


def lost_supply(open_phases: dict[str, str]) -> dict[str, bool]:
    """Premises that do not have their normal supply, and whether it is wholly out; else they are on part of
    their phases or on a voltage that is not known.
    """
    states = trace(snapshot.compiled(), open_phases).not_energized()
    return {premises: state.out for premises, state in states.items()}


def without_supply(open_phases: dict[str, str]) -> set[str]:
    """Premises that do not have their normal supply, wholly or in part."""
    return set(lost_supply(open_phases))


def opened(stands: Mapping[str, str], more: Mapping[str, str]) -> dict[str, str]:
    """Phases that stand open when `more` opens on top of what stands open."""
    return {
        **stands,
        **{device: in_order(stands.get(device, "") + phases) for device, phases in more.items()},
    }


def newly_without(more: Mapping[str, str], stands: Mapping[str, str] | None = None) -> set[str]:
    """Premises that lose their normal supply when `more` opens, on what stands open now or on `stands`."""
    before = dict(positions.open_phases() if stands is None else stands)
    return without_supply(opened(before, more)) - without_supply(before)


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
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
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
    return _told(done_at, clearance)


def of_a_change(*, done_at: datetime.datetime, clearance: Clearance) -> Effect:
    """What a change of the network does to customers, in the caller's transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
    return _told(done_at, clearance)


def _told(done_at: datetime.datetime, clearance: Clearance | None) -> Effect:
    now_without = lost_supply(positions.open_phases())
    standing = {row.premises_id: row for row in Interruption.objects.select_for_update().filter(on_at=None)}
    off = sorted(set(now_without) - set(standing))
    back = sorted(set(standing) - set(now_without))
    begun = Interruption.objects.bulk_create(
        Interruption(premises_id=premises, clearance=clearance, off_at=done_at) for premises in off
    )
    notices.tell_off(begun, unknown={premises for premises in off if not now_without[premises]})
    ended = [standing[premises] for premises in back]
    for row in ended:
        row.on_at = max(done_at, row.off_at)
    Interruption.objects.bulk_update(ended, ["on_at"])
    notices.tell_back(ended)
    return Effect(tuple(off), tuple(back))
