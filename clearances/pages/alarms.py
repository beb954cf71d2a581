"""Proofs that broke under people who are out, until their holder has said that everybody is off."""

from collections.abc import Iterator

from .. import watch
from ..models import BrokenProof
from ..templatetags.board import clock
from .desk import Desk
from .picture import Row, need


def needs(desk: Desk) -> Iterator[Row]:
    """One sentence each: what broke, and from when on the desk calls by voice, whom and how."""
    for row in desk.unanswered_proofs:
        holder = row.clearance.holder
        reach = ", ".join(part for part in (str(holder), holder.phone, holder.radio) if part)
        act = desk.act("answer_broken_proof", f"Enter the answer of {holder}", broken_proof=row.pk)
        since = f"{row.words} Since {clock(row.raised_at)}{_gone(row)}."
        broken = "is broken" if row.gone_at is None else "was broken"
        if watch.must_call(row, desk.now):
            word = f"Call {reach} by voice: the proof of {row.clearance_id} {broken}"
            said = "people are STILL ON the line, says the holder" if row.people_off is False else "no answer"
            yield need("now", f"{word}, {said}.", since, act)
        else:
            seconds = int((row.raised_at + watch.CALL_AFTER - desk.now).total_seconds()) + 1
            word = f"The proof of {row.clearance_id} {broken}; {reach}, is asked."
            yield need("now", word, f"{since} Without an answer in {seconds} s you call.", act, again=seconds)


def _gone(row: BrokenProof) -> str:
    return f" until {clock(row.gone_at)}" if row.gone_at else ""
