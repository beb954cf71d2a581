"""The clause set as data: federal, with a utility's own clauses laid over it."""

import pytest

from clearances.rules.clauses import FEDERAL, IN_ORDER, REENERGIZE, Clause, laid_over, read


def test_every_clause_is_in_the_set_under_its_own_name() -> None:
    assert FEDERAL["reenergize"] is REENERGIZE
    assert len({str(one) for one in FEDERAL.values()}) == len(FEDERAL) > 20


def test_only_what_is_laid_over_changes() -> None:
    own = {"reenergize": read("reenergize", {"number": "29 CFR 1926.961(c)(13)", "mark": "from memory"})}
    assert laid_over(own, REENERGIZE) == Clause("29 CFR 1926.961(c)(13)", REENERGIZE.duty, "from memory")
    assert laid_over(own, IN_ORDER) is IN_ORDER
    unknown = Clause("of a rule that has no name here", "", "utility rule")
    assert laid_over(own, unknown) is unknown


@pytest.mark.parametrize(
    ("name", "said", "why"),
    [
        ("reenergise", {"number": "1", "mark": "seen"}, "no rule leans on a clause «reenergise»"),
        ("reenergize", {"mark": "seen"}, "has a number, a mark and at most a duty"),
        (
            "reenergize",
            {"number": "1", "mark": "seen", "off": "yes"},
            "has a number, a mark and at most a duty",
        ),
        ("reenergize", {"number": "1"}, "is one of: seen, from memory, common practice, utility rule"),
        ("reenergize", {"number": "1", "mark": "sure"}, "is one of: seen, from memory"),
    ],
)
def test_what_is_no_clause_is_refused_with_a_sentence(name: str, said: dict[str, str], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        read(name, said)


def test_a_clause_may_say_its_duty_in_other_words() -> None:
    assert read("in_order", {"number": "1", "mark": "seen", "duty": "in turn"}).duty == "in turn"
