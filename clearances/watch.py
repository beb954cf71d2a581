"""The watch over every clearance that is out: a holder whose proof breaks is asked if everybody is off.

It looks again after every verb, every import, and once a minute. It comes after the commit of what it looks
at, in a transaction of its own, so that no observation waits for it or is lost with it.
"""

import datetime
from collections.abc import Iterable, Sequence

from django.db import connection, transaction
from django.utils import timezone

from circuits import snapshot
from circuits.core.proving.proof import Line
from circuits.locks import one_after_the_other

from . import facts, flags, log, proofs
from .models import BrokenProof, Clearance, LogEntry
from .rules.words import are

# So long the holder's own answer is waited for before the desk is told to call (common practice).
CALL_AFTER = datetime.timedelta(seconds=60)
_LOCK = 0x70726F6F66  # "proof"


def look() -> int:
    """Raise what is newly broken, note what is not so any more, log both. Gives how many are new.

    Cost: a short search behind the points of each clearance of which something was reported since; nothing
    for the others.
    """
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL lock_timeout = '3s'")
        one_after_the_other(_LOCK)
        snapshot.hold()
        open_ones: dict[int, list[BrokenProof]] = {}
        for row in BrokenProof.objects.filter(gone_at=None).select_related("clearance__holder"):
            open_ones.setdefault(row.clearance_id, []).append(row)
        raised = 0
        for clearance, lines in flags.reached():
            before = open_ones.pop(clearance.pk, [])
            now = {name for line in lines for name in proofs.over(line)}
            known = {name for row in before for name in row.over}
            _end(row for row in before if not now & set(row.over))
            new = [line for line in lines if not known.issuperset(proofs.over(line))]
            if new:
                raised += 1
                _raise(clearance, new)
        for left in open_ones.values():  # over: its people are off, or it was never accepted
            _end(left)
        return raised


def _raise(clearance: Clearance, lines: Sequence[Line]) -> None:
    ways = " ".join(f"{_began(are(way.phases))} fed: {way.words}." for way in proofs.told(lines))
    row = BrokenProof.objects.create(
        clearance=clearance,
        over=sorted({name for line in lines for name in proofs.over(line)}),
        words=ways,
        revision=snapshot.compiled().network.revision,
        raised_at=timezone.now(),
    )
    words = f"The proof of clearance {clearance.pk} is broken. {ways} {clearance.holder} is asked to answer."
    _log("proof_broken", words, clearance, row)


def _end(rows: Iterable[BrokenProof]) -> None:
    for row in rows:
        BrokenProof.objects.filter(pk=row.pk).update(gone_at=timezone.now())
        clearance = row.clearance
        stands = "is over" if clearance.state not in facts.OUT else "is blocked as reported"
        words = f"What broke the proof of clearance {clearance.pk} {stands}. It was: {row.words}"
        _log("proof_stands_again", words, clearance, row)


def _log(verb: str, words: str, clearance: Clearance, row: BrokenProof) -> None:
    """After the entry that it follows from, in the name of whoever wrote that one."""
    if last := LogEntry.objects.select_related("by").order_by("-number").first():
        log.append(
            verb=verb,
            words=f"After entry {last.number}: {words}",
            by=last.by,
            speaking_for=None,
            how="board",
            entered_at=timezone.now(),
            clearance=clearance,
            data={"broken_proof": row.pk, "after": last.number},
        )


def _began(words: str) -> str:
    return words[:1].upper() + words[1:]


def waiting(clearance: Clearance | None = None) -> list[BrokenProof]:
    """The broken proofs whose holder has not said that everybody is off, the oldest first."""
    rows = BrokenProof.objects.filter(clearance__state__in=facts.OUT).exclude(people_off=True)
    rows = rows.filter(clearance=clearance) if clearance else rows
    return list(rows.select_related("clearance__holder"))


def must_call(row: BrokenProof, now: datetime.datetime) -> bool:
    """Whether the desk no longer waits for the holder's own answer."""
    return row.people_off is False or now - row.raised_at >= CALL_AFTER
