"""Words made from values, so that every page and every print says the same thing."""

PHASES = "ABC"

_INOPERABLE = {
    "cutout": "remove the barrels and secure them",
    "jumper": "lift clear of the line and secure",
    "disconnect": "lock open",
    "gang_switch": "lock the handle open",
    "enclosed_switch": "lock open",
    "service_disconnect": "lock open",
    "secondary_tie": "lift clear and secure",
    "elbow": "park on a feed-through and secure",
    "breaker": "rack out or lock open",
    "recloser": "lock open, reclosing off",
    "sectionalizer": "lock open",
    "transfer_switch": "lock open",
}


def letters(phases: str) -> str:
    """`"ABC"` -> `"A, B, C"`."""
    return ", ".join(phases)


def in_order(phases: str | set[str]) -> str:
    """The letters of `phases` once each, in the order A, B, C.

    >>> in_order("CA"), in_order({"B", "A"})
    ('AC', 'AB')
    """
    return "".join(phase for phase in PHASES if phase in phases)


def inoperable(kind: str) -> str:
    """How a device of this kind is usually made inoperable (common practice; the utility's rule decides)."""
    return _INOPERABLE[kind]


def step_words(*, operation: str, device: str, kind: str, phases: str, where: str, tag: str) -> str:
    """A step in full words, as it is given by voice.

    >>> where = "P-208, Quarry Lane"
    >>> step_words(operation="open", device="C-208", kind="cutout", phases="AB", where=where, tag="41-1")
    'Open C-208 A, B at P-208, Quarry Lane; remove the barrels and secure them; hang tag 41-1'
    """
    target = f"{device} {letters(phases)} at {where}"
    if operation == "open":
        return f"Open {target}; {inoperable(kind)}; hang tag {tag}"
    if operation == "check_open":
        return f"Check open {target}; {inoperable(kind)}; hang tag {tag}"
    if operation == "remove_tag":
        return f"Remove tag {tag} from {target}; leave it open"
    return f"Close {target}"
