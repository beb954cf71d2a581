"""A ground set that never went on: the holder's word and another's."""

import pytest

from clearances.rules.correcting import may_take_back

from .cases import Case, Refusals


def take_back(
    label: str = "G7", *, is_holder: bool = True, second: str = "Sal Moreno", on: tuple[str, ...] = ("G7",)
) -> Refusals:
    return may_take_back(
        label,
        stands_on=on,
        holder="Ana Duarte",
        is_holder=is_holder,
        second=second,
        crew=("Ana Duarte", "Sal Moreno"),
    )


SECOND = "two people correct a count of grounds"
NO_SECOND = "No second crew member says that ground set G7 never went on."

CASES = [
    Case(
        "set_not_on",
        take_back(on=("G3",)),
        take_back(),
        about="G7",
        text="Ground set G7 is not reported on.",
        clause="29 CFR 1910.269(m)(3)(x)",
        mark="from memory",
        way_past="Read the number",
    ),
    Case(
        "not_the_holder",
        take_back(is_holder=False),
        take_back(),
        about="Ana Duarte",
        text="Only Ana Duarte can say that ground set G7 never went on.",
        clause="29 CFR 1910.269(m)(3)(xi)",
        mark="from memory",
        way_past="Reach Ana Duarte",
    ),
    Case(
        "no_second_person",
        take_back(second="Ana Duarte"),
        take_back(),
        about="Ana Duarte",
        text=NO_SECOND,
        clause=SECOND,
        mark="common practice",
        way_past="Name somebody else",
    ),
    Case(
        "no_second_person",
        take_back(second="Tom Weir"),
        take_back(),
        about="Tom Weir",
        text=NO_SECOND,
        clause=SECOND,
        mark="common practice",
        way_past="signed on under the clearance",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()
