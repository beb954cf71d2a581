"""Who writes what: a state moves in the verbs alone, and only the log's own module appends to the log.

Read from the source, because a page or a task that set a state would pass by the rules and the log.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Each function that writes the state of a job, a clearance, an order, a step, or of what stands beside them.
WRITERS = {
    "clearances/services/calling_off.py": {"call_off_job", "_leave_out"},
    "clearances/services/changes.py": {"confirm_change", "mark_not_done", "_end"},
    "clearances/services/giving.py": {
        "give_clearance",
        "accept_clearance",
        "take_clearance_back",
        "release_clearance",
        "end_freeze",
    },
    "clearances/services/do_not_operates.py": {"give_back_do_not_operate"},
    "clearances/services/field_clearances.py": {"end_field_clearance"},
    "clearances/services/holds.py": {"give_hold", "accept_hold", "withdraw_hold", "give_back_hold"},
    "clearances/services/on_the_line.py": {"report_test"},
    "clearances/services/orders.py": {"check_order", "take_check_back"},
    "clearances/services/way_back.py": {"write_way_back"},
    "clearances/services/reporting.py": {"report_step", "pause_orders"},
    "clearances/services/seen.py": {"report_blown"},
    "clearances/services/switching.py": {
        "give_step",
        "call_step_back",
        "leave_step_out",
        "resume_order",
        "finish_if_done",
        "end_job_if_over",
    },
}
LOG_WRITERS = {"clearances/log.py": {"append"}}


def sources() -> Iterator[tuple[str, ast.Module]]:
    for folder in ("circuits", "clearances", "config", "notifications"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path.relative_to(ROOT).as_posix(), ast.parse(path.read_text())


def functions(tree: ast.Module) -> Iterator[tuple[str, ast.AST]]:
    """Every function of a module and, under "", what stands outside of any."""
    inside: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name, node
            inside |= set(ast.walk(node))
    for node in set(ast.walk(tree)) - inside - {tree}:
        yield "", node


def writes_state(node: ast.AST) -> bool:
    """`rows.update(state=...)`, `touch(row, state=...)`, `row.state = ...`, or a state among changes."""
    for part in ast.walk(node):
        if isinstance(part, ast.Call):
            name = part.func.attr if isinstance(part.func, ast.Attribute) else getattr(part.func, "id", "")
            if name in {"update", "touch", "update_or_create", "bulk_update"} and any(
                keyword.arg == "state" for keyword in part.keywords
            ):
                return True
        if isinstance(part, ast.Assign | ast.AugAssign):
            targets = part.targets if isinstance(part, ast.Assign) else [part.target]
            if any(isinstance(target, ast.Attribute) and target.attr == "state" for target in targets):
                return True
        if isinstance(part, ast.Dict) and in_changes(part, node):
            return True
    return False


def in_changes(dictionary: ast.Dict, node: ast.AST) -> bool:
    """A dictionary with a state that is spread into `touch(**...)` or gathered in `changes`."""
    if not any(isinstance(key, ast.Constant) and key.value == "state" for key in dictionary.keys):
        return False
    for part in ast.walk(node):
        if isinstance(part, ast.keyword) and part.arg is None and dictionary in set(ast.walk(part.value)):
            return True
        if isinstance(part, ast.AugAssign) and dictionary in set(ast.walk(part.value)):
            return True
    return False


def creates_entries(node: ast.AST) -> bool:
    for part in ast.walk(node):
        if not isinstance(part, ast.Call):
            continue
        if isinstance(part.func, ast.Name) and part.func.id == "LogEntry":
            return True
        said = ast.unparse(part.func)
        if said.startswith("LogEntry.objects.") and said.rpartition(".")[2] in {
            "create",
            "bulk_create",
            "get_or_create",
            "update_or_create",
            "update",
            "delete",
        }:
            return True
    return False


def found(kind: object) -> dict[str, set[str]]:
    assert callable(kind)
    out: dict[str, set[str]] = {}
    for path, tree in sources():
        names = {name for name, node in functions(tree) if kind(node)}
        if names:
            out[path] = names
    return out


def test_only_the_named_functions_write_a_state() -> None:
    ours = {path: names for path, names in found(writes_state).items() if path.startswith("clearances/")}
    assert ours == WRITERS


def test_only_the_log_s_own_module_appends_to_the_log() -> None:
    assert found(creates_entries) == LOG_WRITERS


def test_who_is_a_contractor_is_said_where_people_are_entered_and_nowhere_else() -> None:
    """Else a contractor's foreman would be given a clearance untold."""

    def says_so(node: ast.AST) -> bool:
        return any(
            (isinstance(part, ast.keyword) and part.arg == "contractor")
            or (isinstance(part, ast.Attribute) and ast.unparse(part) == "row.contractor")
            for part in ast.walk(node)
        )

    assert found(says_so) == {"clearances/services/people.py": {"save_person"}}


def test_the_search_finds_what_it_looks_for() -> None:
    for sql in (
        "Clearance.objects.filter(pk=1).update(state='given')",
        "touch(row, expected=None, state='given')",
        "row.state = 'given'",
        "touch(row, **({'state': 'frozen'} if bad else {}))",
        "changes |= {'state': 'reported'}",
    ):
        assert writes_state(ast.parse(sql)), sql
    assert not writes_state(ast.parse("rows.filter(state='given').update(version=2)"))
    assert creates_entries(ast.parse("LogEntry(number=1)"))
    assert not creates_entries(ast.parse("LogEntry.objects.filter(number=1)"))
