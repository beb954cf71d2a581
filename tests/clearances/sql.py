"""SQL typed by hand, as the role that the board itself has."""

from dataclasses import dataclass
from typing import Any

import psycopg
import pytest
from django.db import DatabaseError, connection, transaction

OWN = "BRD01"  # SQLSTATE of the board's own triggers
CHECK, UNIQUE, FOREIGN, NO_RIGHT = "23514", "23505", "23503", "42501"

# What a person might type, with a name and what it is about to fill in.
GIVE_STEP = (
    "UPDATE clearances_step SET state = 'given', given_at = now(), given_by_id = %s, given_to = 'Sal'"
    " WHERE id = %s"
)
GIVE = "UPDATE clearances_clearance SET state = 'given', given_at = now(), given_by_id = %s WHERE number = %s"
ACCEPT = (
    "UPDATE clearances_clearance SET state = 'accepted', accepted_at = now(), accepted_words = 'read back'"
    " WHERE number = %s"
)
RELEASE = (
    "UPDATE clearances_clearance SET state = 'released', released_at = now(), released_by_id = %s"
    " WHERE number = %s"
)
REPORT = (
    "INSERT INTO circuits_positionreport (device_id, phase, position, made_inoperable, said_by, how, done_at,"
    " reported_at, entered_at, irregular)"
    " SELECT %s, %s, %s, %s, 'Sal', 'radio', clock, clock, clock, '' FROM clock_timestamp() AS clock"
)
HANG = (
    "INSERT INTO clearances_tag"
    " (number, clearance_id, point_id, device_id, phases, hung_at, hung_by, off_by, irregular)"
    " SELECT clearance_id || '-' || place, clearance_id, id, device_id, %s, now(), 'Sal', '', ''"
    " FROM clearances_isolationpoint WHERE clearance_id = %s AND device_id = %s"
)
TEST = (
    "INSERT INTO clearances_voltagetest (clearance_id, pole, phases, result, instrument, tester_proven,"
    " done_at, said_by, irregular) VALUES (%s, %s, %s, %s, 'tester 12', %s, now(), 'Sal', '')"
)
TAG_OFF = "UPDATE clearances_tag SET off_at = now(), off_by = 'Sal' WHERE number = %s AND off_at IS NULL"


@dataclass(frozen=True)
class Said:
    """What the database answered: the kind of refusal, the rule's name, the sentence."""

    state: str | None
    rule: str | None
    sentence: str | None


def typed(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """Type it, and see it taken; the rows that come back, if it asks for any."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(cursor.fetchall()) if cursor.description else []


def refusal(sql: str, *values: Any) -> Said:
    """Type it, and see it refused; nothing is left of the attempt."""
    with pytest.raises(DatabaseError) as caught, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)
    cause = caught.value.__cause__
    assert isinstance(cause, psycopg.Error)
    return Said(cause.sqlstate, cause.diag.constraint_name, cause.diag.message_primary)


def refused(rule: str, sql: str, *values: Any) -> str:
    """Type it, and see it refused by one of the board's own rules, which says so in a sentence."""
    said = refusal(sql, *values)
    assert (said.state, said.rule) == (OWN, rule), said
    assert said.sentence
    assert said.sentence.endswith(".")
    return said.sentence


def breaks(constraint: str, sql: str, *values: Any) -> None:
    """Type it, and see it refused by a named CHECK, UNIQUE or FOREIGN KEY."""
    said = refusal(sql, *values)
    assert said.state in {CHECK, UNIQUE, FOREIGN}
    assert said.rule == constraint, said


def no_right(sql: str, *values: Any) -> None:
    """Type it, and see that the board's own role has no right to it."""
    assert refusal(sql, *values).state == NO_RIGHT
