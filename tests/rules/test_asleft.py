"""A change of the network: planned on one that can be, built by the holder's word, settled, surveyed."""

import pytest

from clearances.rules.asleft import change_words, may_end, may_plan, may_say, may_settle

from .cases import Case, Refusals

PICTURE = "the board's own picture"
FAULT = "No station would feed P-215 phase A in normal position any more."


def say(*, state: str = "planned", says: str = "planned", holds: bool = True) -> Refusals:
    return may_say("change set 3", state=state, says=says, holder="Ana Duarte", holds=holds)


CASES = [
    Case(
        "network_can_not_be",
        may_plan((FAULT,)),
        may_plan(()),
        about="",
        text=FAULT,
        clause=PICTURE,
        mark="common practice",
        way_past="Plan first what has to be there before it",
    ),
    Case(
        "not_the_holder",
        say(holds=False),
        say(),
        about="change set 3",
        text="Only Ana Duarte can say how change set 3 was built.",
        clause="29 CFR 1910.269(m)(3)(i)",
        mark="seen",
        way_past="enter it in that name",
    ),
    Case(
        "change_not_planned",
        say(state="not_done", says="not done"),
        say(),
        about="change set 3",
        text="Change set 3 is not done already.",
        clause=PICTURE,
        mark="common practice",
        way_past="planned and confirmed as a further change",
    ),
    Case(
        "change_settled",
        may_settle("change set 3", unsettled=False, faults=()),
        may_settle("change set 3", unsettled=True, faults=()),
        about="change set 3",
        text="Change set 3 leaves nothing open.",
        clause=PICTURE,
        mark="common practice",
        way_past="Look at the list",
    ),
    Case(
        "change_not_in_network",
        may_settle("change set 3", unsettled=True, faults=(FAULT,)),
        may_settle("change set 3", unsettled=True, faults=()),
        about="change set 3",
        text=f"Change set 3 can't be laid into the network: {FAULT}",
        clause="as left before restore",
        mark="common practice",
        way_past="Plan what was really built as a further change",
    ),
    Case(
        "change_not_standing",
        may_end("change set 3", state="planned", says="planned"),
        may_end("change set 3", state="confirmed", says="confirmed as built"),
        about="change set 3",
        text="Change set 3 is planned, not confirmed as built.",
        clause=PICTURE,
        mark="common practice",
        way_past="confirms it or marks it not done",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_refusal(case: Case) -> None:
    case.check()


def test_of_many_faults_the_first_are_said_and_the_rest_counted() -> None:
    refused = may_plan(tuple(f"Fault {number}." for number in range(8)))
    assert [one.text for one in refused] == [
        "Fault 0.",
        "Fault 1.",
        "Fault 2.",
        "Fault 3.",
        "Fault 4. And 3 more.",
    ]


@pytest.mark.parametrize(
    ("change", "given", "said"),
    [
        (
            "set_switch",
            {"line": "L-214-215", "device": "N-15", "kind": "gang_switch", "normal_position": "open"},
            "set gang switch N-15 in span L-214-215, normally open",
        ),
        ("normal_position", {"device": "C-9", "position": "AC"}, "C-9 normally A, C closed"),
        ("change_link", {"device": "C-208", "link": "25K"}, "link 25K in C-208"),
        ("remove_span", {"line": "L-1"}, "take span L-1 down"),
        ("remove_device", {"device": "C-1"}, "take C-1 off"),
    ],
)
def test_changes_are_said_as_the_trade_says_them(change: str, given: dict[str, str], said: str) -> None:
    assert change_words(change, given) == said
