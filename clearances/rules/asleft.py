"""May a change of the network be planned, taken as built, surveyed; and how it is said."""

from collections.abc import Mapping

from .clauses import AS_LEFT, ONE_IN_CHARGE, PICTURE
from .refusal import Refusal
from .words import letters

MOST = 5  # reasons that a person reads at once

_WORDS = {
    "set_switch": "set {kind} {device} in span {line}, normally {normal_position}",
    "move_transformer": "move transformer {transformer} to phase {phases}",
    "normal_position": "{device} normally {position}",
    "change_link": "link {link} in {device}",
    "add_span": "string {line} from {from_node} to {to_node}, phases {phases}, {conductor}, {length_m} m",
    "remove_span": "take span {line} down",
    "add_device": "hang {kind} {device} between {from_node} and {to_node}, phases {phases}, normally "
    "{normal_position}",
    "remove_device": "take {device} off",
    "temporary_jumper": "temporary jumper {device} of {owner} between {from_node} and {to_node}, phases "
    "{phases}",
}


def change_words(change: str, given: Mapping[str, str]) -> str:
    """One change as the trade says it.

    >>> change_words("normal_position", {"device": "N-15", "position": "open"})
    'N-15 normally open'
    >>> change_words("move_transformer", {"transformer": "T-217", "phases": "C", "at_node": "P-216"})
    'move transformer T-217 to phase C, at P-216'
    """
    said = dict(given)
    for name in ("position", "normal_position", "phases"):
        if set(said.get(name, "")) <= set("ABC") and said.get(name):
            said[name] = letters(said[name]) + (" closed" if "position" in name else "")
    said["kind"] = said.get("kind", "").replace("_", " ")
    place = f", at {said['at_node']}" if said.get("at_node") else ""
    return _WORDS[change].format_map(said) + place


def may_plan(faults: tuple[str, ...]) -> tuple[Refusal, ...]:
    """A plan must be one of a network that can be: `faults` say what would be wrong with it."""
    more = f" And {len(faults) - MOST} more." if len(faults) > MOST else ""
    return tuple(
        Refusal(
            "network_can_not_be",
            "",
            fault + (more if number == MOST else ""),
            PICTURE,
            "Plan first what has to be there before it: a tie normally open, a new way to be fed.",
        )
        for number, fault in enumerate(faults[:MOST], start=1)
    )


def may_say(change_set: str, *, state: str, says: str, holder: str, holds: bool) -> tuple[Refusal, ...]:
    """How a planned change was built is the word of the clearance's holder."""
    if not holds:
        return (
            Refusal(
                "not_the_holder",
                change_set,
                f"Only {holder} can say how {change_set} was built.",
                ONE_IN_CHARGE,
                f"Ask {holder} and enter it in that name.",
            ),
        )
    if state != "planned":
        return (
            Refusal(
                "change_not_planned",
                change_set,
                f"{change_set[0].upper()}{change_set[1:]} is {says} already.",
                PICTURE,
                "What is otherwise on the line is planned and confirmed as a further change.",
            ),
        )
    return ()


def may_settle(change_set: str, *, unsettled: bool, faults: tuple[str, ...]) -> tuple[Refusal, ...]:
    """What was built otherwise is settled when the board has it: laid in by now, or by a later change."""
    if not unsettled:
        return (
            Refusal(
                "change_settled",
                change_set,
                f"{change_set[0].upper()}{change_set[1:]} leaves nothing open.",
                PICTURE,
                "Look at the list of change sets again.",
            ),
        )
    return tuple(
        Refusal(
            "change_not_in_network",
            change_set,
            f"{change_set[0].upper()}{change_set[1:]} can't be laid into the network: {fault}",
            AS_LEFT,
            "Plan what was really built as a further change of the same job and have it confirmed.",
        )
        for fault in faults[:MOST]
    )


def may_end(change_set: str, *, state: str, says: str) -> tuple[Refusal, ...]:
    """Only what the field has confirmed is surveyed or withdrawn, once."""
    if state == "confirmed":
        return ()
    return (
        Refusal(
            "change_not_standing",
            change_set,
            f"{change_set[0].upper()}{change_set[1:]} is {says}, not confirmed as built.",
            PICTURE,
            "The holder of its clearance confirms it or marks it not done.",
        ),
    )
