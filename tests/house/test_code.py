"""What must hold of the code as a whole."""

import subprocess
import sys
from pathlib import Path

import pytest
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]


def test_nobody_imports_what_lies_above() -> None:
    linted = subprocess.run(
        [Path(sys.executable).with_name("lint-imports")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert linted.returncode == 0, linted.stdout


@pytest.mark.django_db
def test_every_change_of_a_model_has_its_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db
def test_the_tests_are_the_role_that_owns_nothing() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, rolsuper FROM pg_roles WHERE rolname = current_user")
        assert cursor.fetchone() == ("board_app", False)
        cursor.execute("SELECT count(*) FROM pg_class WHERE relowner = current_user::regrole")
        assert cursor.fetchone() == (0,)
        cursor.execute(
            "SELECT table_name FROM information_schema.role_table_grants"
            " WHERE grantee = 'board_app' AND privilege_type = 'TRUNCATE'"
        )
        assert cursor.fetchall() == []


@pytest.mark.django_db
def test_the_database_names_a_rule_in_every_refusal() -> None:
    """Each constraint of our own tables has a name that a person chose, not one that Django made up from a
    hash."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT conname FROM pg_constraint WHERE contype IN ('c', 'x') AND conrelid::regclass::text ~"
            " '^(circuits|clearances|notifications)_' AND conname ~ '_[0-9a-f]{8}(_|$)'"
        )
        assert cursor.fetchall() == []


@pytest.mark.parametrize("time", ["first", "second"])
@pytest.mark.django_db(transaction=True)
def test_a_test_with_real_transactions_leaves_what_the_migrations_wrote(time: str) -> None:
    assert ContentType.objects.filter(app_label="circuits", model="device").count() == 1
    assert not ContentType.objects.filter(app_label="none").exists()
    ContentType.objects.all().delete()
    ContentType.objects.create(app_label="none", model=time)
