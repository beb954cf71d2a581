"""No refusal without a test of its sentence, its rule and its way past."""

import ast
from collections.abc import Iterator
from pathlib import Path

import clearances.rules
from clearances.rules import clauses, words

from . import (
    test_asking,
    test_asleft,
    test_blown,
    test_correcting,
    test_do_not_operate,
    test_field_clearances,
    test_given,
    test_giving,
    test_holders,
    test_holds,
    test_orders,
    test_protections,
    test_queued,
    test_release,
    test_rollcall,
    test_steps,
    test_troubles,
)

TABLES = {
    "asking": test_asking.CASES,
    "asleft": test_asleft.CASES,
    "blown": test_blown.CASES,
    "correcting": test_correcting.CASES,
    "do_not_operate": test_do_not_operate.CASES,
    "field_clearances": test_field_clearances.CASES,
    "given": test_given.CASES,
    "giving": test_giving.CASES,
    "holders": test_holders.CASES,
    "holds": test_holds.CASES,
    "orders": test_orders.CASES,
    "protections": test_protections.CASES,
    "queued": test_queued.CASES,
    "release": test_release.CASES,
    "rollcall": test_rollcall.CASES,
    "steps": test_steps.CASES,
    "troubles": test_troubles.CASES,
}


def codes_in(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Refusal":
            assert isinstance(node.args[0], ast.Constant), "a refusal's code is written out where it is made"
            yield str(node.args[0].value)
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "_not_as_expected"
        ):
            yield "position_not_as_expected"


def test_every_refusal_of_the_rules_has_its_case() -> None:
    folder = Path(clearances.rules.__file__).parent
    made = {path.stem: set(codes_in(path.read_text())) for path in folder.glob("*.py")}
    assert {module: codes for module, codes in made.items() if codes} == {
        module: {case.code for case in cases} for module, cases in TABLES.items()
    }


def test_no_way_past_is_an_override() -> None:
    """Practice: a refusal with an override button is a warning. Nor does any sentence promise more than was
    reported."""
    for case in [case for cases in TABLES.values() for case in cases]:
        said = f"{case.refused[0].text} {case.refused[0].way_past}".lower()
        assert not any(
            word in said for word in ("override", "force", "bypass", "anyway", " safe", "de-energized")
        )


def test_every_federal_clause_says_how_it_is_known() -> None:
    federal = [
        one for one in vars(clauses).values() if isinstance(one, clauses.Clause) and "CFR" in one.number
    ]
    assert len(federal) > 8
    assert {one.mark for one in federal} <= {"seen", "from memory"}


def test_steps_are_said_in_full_words() -> None:
    """As they stand on the printed order (Appendix 1b of the example)."""
    about = {
        "device": "C-221",
        "kind": "cutout",
        "phases": "ABC",
        "where": "P-221, Quarry Lane",
        "tag": "41-2",
    }
    assert [
        words.step_words(operation=operation, **about)
        for operation in ("open", "check_open", "remove_tag", "close")
    ] == [
        "Open C-221 A, B, C at P-221, Quarry Lane; remove the barrels and secure them; hang tag 41-2",
        "Check open C-221 A, B, C at P-221, Quarry Lane; remove the barrels and secure them; hang tag 41-2",
        "Remove tag 41-2 from C-221 A, B, C at P-221, Quarry Lane; leave it open",
        "Close C-221 A, B, C at P-221, Quarry Lane",
    ]


def test_every_kind_of_device_is_made_inoperable_in_words() -> None:
    """As an order and as a report (common practice); where there is a choice, the reporter says which."""
    assert words.inoperable("cutout") == "remove the barrels and secure them"
    assert words.made_inoperable("cutout") == "barrels out, secured"
    assert words.made_inoperable("breaker") == ""
