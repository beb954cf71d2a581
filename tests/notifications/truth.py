"""Stands in for what the clearances say of a fact, in the tests' own process and in their workers."""

import time


def still_true(fact: str, about: str) -> str:
    """A fact with 'untrue' in it stopped being true, one with 'broken' can't be asked about, and asking about
    one with 'slow' takes longer than any test."""
    if "broken" in fact:
        raise LookupError(fact)
    if "slow" in fact:
        time.sleep(120)
    return "The job was moved to another day." if "untrue" in fact else ""
