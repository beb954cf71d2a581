"""The operations log: appended here and nowhere else.

Each entry carries the SHA-256 of its own content and of the entry before it, so that a changed, removed or
inserted entry shows. Numbers are
given under one advisory lock, because identity numbers commit out of order. The database refuses UPDATE,
DELETE and TRUNCATE, and an insertion that does not continue the chain. An entry carries what its transaction
has changed (`clearances.replay`).
"""

import datetime
import hashlib
import json
from collections.abc import Iterator
from typing import Any
from uuid import UUID

from circuits.locks import one_after_the_other

from . import replay
from .models import Clearance, LogEntry, Person

_LOCK = 0x6C6F67  # "log"
_CHAINED = (
    "number", "verb", "words", "by_id", "speaking_for_id", "how", "clearance_id",
    "ordered_at", "done_at", "reported_at", "entered_at", "irregular", "key", "data", "previous",
)  # fmt: skip


def digest_of(entry: LogEntry) -> str:
    """SHA-256 over the entry's content and the digest before it, as canonical JSON (sorted keys, UTC ISO 8601
    times).
    """

    def plain(value: object) -> object:
        if isinstance(value, datetime.datetime):
            return value.astimezone(datetime.UTC).isoformat(timespec="microseconds")
        return str(value) if isinstance(value, UUID) else value

    content = {name: plain(getattr(entry, name)) for name in _CHAINED}
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def append(
    *,
    verb: str,
    words: str,
    by: Person,
    speaking_for: Person | None,
    how: str,
    entered_at: datetime.datetime,
    clearance: Clearance | None = None,
    ordered_at: datetime.datetime | None = None,
    done_at: datetime.datetime | None = None,
    reported_at: datetime.datetime | None = None,
    irregular: str = "",
    key: UUID | None = None,
    data: dict[str, Any] | None = None,
) -> LogEntry:
    """Add one entry to the end of the chain, inside the caller's transaction (the lock is held until it
    ends).
    """
    one_after_the_other(_LOCK)
    changes = replay.take_changes()
    last = LogEntry.objects.order_by("-number").values_list("number", "digest").first()
    number, previous = last or (0, "")
    entry = LogEntry(
        number=number + 1,
        verb=verb,
        words=words,
        by=by,
        speaking_for=speaking_for,
        how=how,
        clearance=clearance,
        ordered_at=ordered_at,
        done_at=done_at,
        reported_at=reported_at,
        entered_at=entered_at,
        irregular=irregular,
        key=key,
        data=json.loads(json.dumps((data or {}) | ({"changes": changes} if changes else {}))),
        previous=previous,
    )
    entry.digest = digest_of(entry)
    entry.save(force_insert=True)
    return entry


def faults() -> Iterator[str]:
    """Every place where the chain is broken, in words, from the first entry on."""
    previous, expected = "", 1
    for entry in LogEntry.objects.order_by("number").iterator():
        if entry.number != expected:
            yield (
                f"entry {expected} is missing"
                if entry.number == expected + 1
                else f"entries {expected} to {entry.number - 1} are missing"
            )
        if entry.previous != previous:
            yield f"entry {entry.number} does not continue the one before it"
        if entry.digest != digest_of(entry):
            yield f"entry {entry.number} was changed after it was written"
        previous, expected = entry.digest, entry.number + 1
