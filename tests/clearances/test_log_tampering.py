"""Tampering with the operations log: whoever owns the tables is refused, and what a superuser does shows.

These tests commit what they write, and so stand in a file of their own.
"""

import io
from collections.abc import Callable

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from clearances.services import on_the_line
from tests.cast import Cast, done

from .sql import OWN


def verified() -> str:
    out = io.StringIO()
    call_command("verify_log", stdout=out)
    return out.getvalue().strip()


def broken() -> list[str]:
    err = io.StringIO()
    with pytest.raises(CommandError) as caught:
        call_command("verify_log", stdout=io.StringIO(), stderr=err)
    faults = err.getvalue().splitlines()
    assert str(caught.value) == f"the log is broken, or the tables differ from it, in {len(faults)} place(s)"
    return faults


@pytest.mark.django_db(transaction=True)
def test_whoever_owns_the_tables_changes_nothing_either(committed_cast: Cast, owner_url: str) -> None:
    committed_cast.asked()
    with psycopg.connect(owner_url, autocommit=True) as owner:
        for rule, sql in (
            ("log_only_grows", "UPDATE clearances_logentry SET words = 'Nothing happened.'"),
            ("log_only_grows", "DELETE FROM clearances_logentry"),
            ("history_is_kept", "TRUNCATE clearances_logentry CASCADE"),
            ("history_is_kept", "TRUNCATE clearances_clearance CASCADE"),
        ):
            with pytest.raises(psycopg.Error) as caught:
                owner.execute(sql.encode())
            assert (caught.value.sqlstate, caught.value.diag.constraint_name) == (OWN, rule)
    assert verified().startswith("1 entries, unbroken")


@pytest.mark.django_db(transaction=True)
def test_a_superusers_tampering_shows(committed_cast: Cast, admin_url: str) -> None:
    """He can switch the triggers off, but not make the chain fit."""
    clearance = committed_cast.asked()
    for name in ("Sal Moreno", "Lee Abara", "Kim Osei", "Ned Farrow"):
        who = committed_cast.who(committed_cast.ana)
        done(on_the_line.sign_on(who, clearance=clearance.pk, name=name, done_at=timezone.now()))
    whole = verified()

    def tamper(*statements: str) -> list[str]:
        with psycopg.connect(admin_url) as admin:
            admin.execute("SET session_replication_role = replica")
            admin.execute("DROP TABLE IF EXISTS kept; CREATE TABLE kept AS TABLE clearances_logentry")
            for sql in statements:
                admin.execute(sql.encode())
        faults = broken()
        with psycopg.connect(admin_url) as admin:
            admin.execute("SET session_replication_role = replica")
            admin.execute("DELETE FROM clearances_logentry; INSERT INTO clearances_logentry TABLE kept")
            admin.execute("DROP TABLE kept")
        assert verified() == whole
        return faults

    change: Callable[[str], str] = "UPDATE clearances_logentry SET {} WHERE number = 3".format
    assert tamper(change("words = 'Somebody else signs on.'")) == ["entry 3 was changed after it was written"]
    assert tamper(change("done_at = done_at - interval '1 minute'")) == [
        "entry 3 was changed after it was written"
    ]
    assert tamper(change('data = \'{"name": "Nobody"}\'')) == ["entry 3 was changed after it was written"]
    assert tamper(change("irregular = 'x', digest = repeat('0', 64)")) == [
        "entry 3 was changed after it was written",
        "entry 4 does not continue the one before it",
    ]
    assert tamper("DELETE FROM clearances_logentry WHERE number = 3") == [
        "entry 3 is missing",
        "entry 4 does not continue the one before it",
    ]
    assert tamper("DELETE FROM clearances_logentry WHERE number IN (2, 3)") == [
        "entries 2 to 3 are missing",
        "entry 4 does not continue the one before it",
    ]
    assert tamper("DELETE FROM clearances_logentry WHERE number = 1") == [
        "entry 1 is missing",
        "entry 2 does not continue the one before it",
    ]
    columns = "verb, words, by_id, how, entered_at, irregular, data, previous, digest"
    assert tamper(
        "UPDATE clearances_logentry SET number = number + 10 WHERE number > 3",
        "UPDATE clearances_logentry SET number = number - 9 WHERE number > 3",
        f"INSERT INTO clearances_logentry (number, {columns}) SELECT 4, {columns} FROM clearances_logentry"
        " WHERE number = 3",
    ) == [
        "entry 4 does not continue the one before it",
        "entry 4 was changed after it was written",
        "entry 5 was changed after it was written",
        "entry 6 was changed after it was written",
    ]
    # The chain can't tell that its end is gone; the tables can.
    (cut,) = tamper("DELETE FROM clearances_logentry WHERE number = 5")
    assert cut.startswith("person on ")
    assert cut.endswith("is not in the log")
