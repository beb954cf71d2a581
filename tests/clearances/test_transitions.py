"""The moves between states are said four times: in the rules, in the migration, in the table of the database,
and by what its triggers do. They agree.
"""

import importlib
from itertools import product

import pytest
from django.db import connection
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from clearances.models import ChangeSet, Clearance, DoNotOperate, FieldClearance, HotLineHold, Step
from clearances.rules.transitions import TRANSITIONS
from clearances.services import changes, reporting
from tests.cast import Cast, done
from tests.stages import Stages

from .beside import a_do_not_operate, a_field_clearance, a_hold
from .plays import Tap, called_off
from .sql import OWN, no_right, refusal, typed

# The migrations in which the table is written out.
TABLES = {
    "job": ("clearances_job", "id"),
    "clearance": ("clearances_clearance", "number"),
    "order": ("clearances_switchingorder", "clearance_id"),
    "step": ("clearances_step", "id"),
    "hold": ("clearances_hotlinehold", "id"),
    "do_not_operate": ("clearances_donotoperate", "id"),
    "field_clearance": ("clearances_fieldclearance", "id"),
    "change": ("clearances_changeset", "id"),
}
FROZEN = ("0002_invariants", "0010_protections", "0011_as_left")
STATES = {kind: sorted({new for _, new in moves}) for kind, moves in TRANSITIONS.items()}
PAIRS = [
    (kind, old, new)
    for kind, states in STATES.items()
    for old, new in product(states, [*states, "closed"])
    if old != new
]
FORBIDDEN = [(kind, old, new) for kind, old, new in PAIRS if (old, new) not in TRANSITIONS[kind]]
ALLOWED = [pair for pair in PAIRS if pair not in FORBIDDEN]
BEGINNINGS = [(kind, state) for kind, states in STATES.items() for state in states]


@pytest.fixture(scope="session")
def _rows(_stages: Stages, django_db_blocker: DjangoDbBlocker) -> dict[tuple[str, str], int]:
    found: dict[tuple[str, str], int] = {}
    with django_db_blocker.unblock():
        _stages.make("a row in every state", "the demo", lambda: found.update(in_every_state()))
    return found


@pytest.fixture
def rows(cast: Cast, _stages: Stages, _rows: dict[tuple[str, str], int]) -> dict[tuple[str, str], int]:
    """One row of every kind in every state: (kind, state) -> its key."""
    _stages.enter("a row in every state")
    return _rows


def in_every_state() -> dict[tuple[str, str], int]:
    """Bring one row of every kind to every state by the verbs."""
    cast = Tap.present()
    restored, off = cast.job("restored"), called_off(cast, cast.job("checked"))
    asked, drafted, checked = (cast.job(stage) for stage in ("asked", "order written", "told"))
    paused = cast.job("told")
    out = {stage: cast.job(stage) for stage in ("given", "accepted", "released")}
    frozen = cast.job("accepted")
    cast.test(frozen, result="present")
    cast.give_step(checked, cast.steps(checked, "isolate")[0])
    done(
        reporting.report_position(
            cast.who(cast.sal), device="C-233", phases="B", position="closed", done_at=timezone.now()
        )
    )
    assert Clearance.objects.get(pk=paused.pk).order.state == "paused"
    steps = {
        "waiting": cast.steps(drafted, "isolate")[0],
        "given": cast.steps(checked, "isolate")[0],
        "reported": cast.steps(restored, "isolate")[0],
        "left_out": cast.steps(off, "isolate")[0],
    }
    return (
        {
            ("job", "active"): asked.job_id,
            ("job", "finished"): restored.job_id,
            ("job", "cancelled"): off.job_id,
            ("clearance", "asked"): asked.pk,
            ("clearance", "given"): out["given"].pk,
            ("clearance", "accepted"): out["accepted"].pk,
            ("clearance", "frozen"): frozen.pk,
            ("clearance", "released"): out["released"].pk,
            ("clearance", "withdrawn"): off.pk,
            ("order", "draft"): drafted.pk,
            ("order", "checked"): cast.job("checked").pk,
            ("order", "paused"): paused.pk,
            ("order", "finished"): restored.pk,
            ("order", "withdrawn"): off.pk,
        }
        | {("step", state): step.pk for state, step in steps.items()}
        | {("change", state): row.pk for state, row in in_every_state_of_a_change(cast, asked).items()}
        | beside_them(cast)
    )


def beside_them(cast: Cast) -> dict[tuple[str, str], int]:
    """The same of what is no clearance."""
    return (
        {("hold", state): a_hold(cast, state).pk for state in STATES["hold"]}
        | {("do_not_operate", state): a_do_not_operate(cast, state).pk for state in STATES["do_not_operate"]}
        | {("field_clearance", state): a_field_clearance(cast, state).pk for state in ("ended", "on")}
    )


def in_every_state_of_a_change(cast: Cast, clearance: Clearance) -> dict[str, ChangeSet]:
    """Change sets of one clearance; only one of them can be planned."""
    found: dict[str, ChangeSet] = {}
    for state in ("not_done", "confirmed", "surveyed", "withdrawn", "planned"):
        link = {"device": "C-233", "link": f"{len(found) + 6}T"}
        done(
            changes.plan_change(cast.who(cast.dana), clearance=clearance.pk, change="change_link", given=link)
        )
        row = ChangeSet.objects.latest("pk")
        field, engineer = cast.who(cast.ana), cast.who(cast.jon)
        if state == "not_done":
            done(changes.mark_not_done(field, change_set=row.pk, why="rain"))
        elif state != "planned":
            done(changes.confirm_change(field, change_set=row.pk, done_at=timezone.now()))
        if state == "surveyed":
            done(changes.survey_change(engineer, change_set=row.pk, why="seen"))
        elif state == "withdrawn":
            done(changes.withdraw_change(engineer, change_set=row.pk, why="not there"))
        found[state] = row
    return found


def test_the_migration_the_table_and_the_rules_agree(cast: Cast) -> None:
    frozen = [importlib.import_module(f"clearances.migrations.{name}").MOVES for name in FROZEN]
    in_rules = {(kind, *move) for kind, moves in TRANSITIONS.items() for move in moves}
    in_migrations = [
        (kind, *move.split("->")) for each in frozen for kind, moves in each.items() for move in moves
    ]
    assert sorted(in_migrations) == sorted(in_rules)
    assert set(typed("SELECT kind, old_state, new_state FROM clearances_transition")) == in_rules


def test_every_state_that_the_models_know_is_in_the_table() -> None:
    assert STATES["clearance"] == sorted(Clearance.State.values)
    assert STATES["step"] == sorted(Step.State.values)
    assert STATES["hold"] == sorted(HotLineHold.State.values)
    assert STATES["do_not_operate"] == sorted(DoNotOperate.State.values)
    assert STATES["field_clearance"] == sorted(FieldClearance.State.values)
    assert STATES["change"] == sorted(ChangeSet.State.values)


def test_every_row_stands_in_its_state(cast: Cast, rows: dict[tuple[str, str], int]) -> None:
    assert set(rows) == set(BEGINNINGS)
    for (kind, state), key in rows.items():
        table, column = TABLES[kind]
        assert typed(f"SELECT state FROM {table} WHERE {column} = %s", key) == [(state,)], kind


@pytest.mark.parametrize(("kind", "old", "new"), FORBIDDEN)
def test_a_move_outside_the_table_is_refused(
    cast: Cast, rows: dict[tuple[str, str], int], kind: str, old: str, new: str
) -> None:
    table, column = TABLES[kind]
    said = refusal(f"UPDATE {table} SET state = %s WHERE {column} = %s", new, rows[kind, old])
    assert (said.state, said.rule) == (OWN, f"{kind}_state_moves")
    assert said.sentence == f"A {kind} can't go from «{old}» to «{new}»."


@pytest.mark.parametrize(("kind", "old", "new"), ALLOWED)
def test_a_move_of_the_table_is_refused_for_other_reasons_only(
    cast: Cast, rows: dict[tuple[str, str], int], kind: str, old: str, new: str
) -> None:
    """By hand most of them lack a name or a time, or something stands against them: never the table."""
    table, column = TABLES[kind]
    sql = f"UPDATE {table} SET state = '{new}' WHERE {column} = {rows[kind, old]}"
    with connection.cursor() as cursor:
        cursor.execute(
            f"DO $$ BEGIN {sql}; EXCEPTION WHEN check_violation THEN NULL; "
            "WHEN SQLSTATE 'BRD01' THEN IF SQLERRM LIKE '%%can''t go from%%' THEN RAISE; END IF; END $$"
        )


@pytest.mark.parametrize(("kind", "state"), BEGINNINGS)
def test_nothing_begins_in_the_middle(
    cast: Cast, rows: dict[tuple[str, str], int], kind: str, state: str
) -> None:
    if ("", state) in TRANSITIONS[kind]:
        return
    table, column = TABLES[kind]
    copied = typed(
        "SELECT string_agg(quote_ident(column_name), ', ') FROM information_schema.columns"
        " WHERE table_name = %s AND is_identity = 'NO' AND column_name <> 'state'",
        table,
    )[0][0]
    said = refusal(
        f"INSERT INTO {table} ({copied}, state) SELECT {copied}, %s FROM {table} WHERE {column} = %s",
        state,
        rows[kind, state],
    )
    assert (said.state, said.rule) == (OWN, f"{kind}_state_moves")


@pytest.mark.parametrize(
    "sql",
    [
        "INSERT INTO clearances_transition VALUES ('clearance', 'asked', 'released')",
        "UPDATE clearances_transition SET new_state = 'released' WHERE new_state = 'given'",
        "DELETE FROM clearances_transition",
        "TRUNCATE clearances_transition",
        "ALTER TABLE clearances_clearance DISABLE TRIGGER ALL",
        "SET session_replication_role = replica",
    ],
)
def test_the_board_has_no_right_to_change_the_table_or_to_switch_the_triggers_off(
    cast: Cast, sql: str
) -> None:
    no_right(sql)
