"""Words made from values, so that every page and every print says the same thing."""

PHASES = "ABC"

# As it is ordered, and as it is reported.
_INOPERABLE = {
    "cutout": ("remove the barrels and secure them", "barrels out, secured"),
    "jumper": ("lift clear of the line and secure", "lifted clear, secured"),
    "disconnect": ("lock open", "locked open"),
    "gang_switch": ("lock the handle open", "handle locked open"),
    "enclosed_switch": ("lock open", "locked open"),
    "service_disconnect": ("lock open", "locked open"),
    "secondary_tie": ("lift clear and secure", "lifted clear, secured"),
    "elbow": ("park on a feed-through and secure", "parked on a feed-through, secured"),
    "breaker": ("rack out or lock open", ""),
    "recloser": ("lock open, reclosing off", "locked open, reclosing off"),
    "sectionalizer": ("lock open", "locked open"),
    "transfer_switch": ("lock open", "locked open"),
}


def letters(phases: str) -> str:
    """`"ABC"` -> `"A, B, C"`."""
    return ", ".join(phases)


def are(phases: str) -> str:
    """Phases as what a sentence is about.

    >>> are("B"), are("ABC")
    ('phase B is', 'phases A, B, C are')
    """
    return f"phases {letters(phases)} are" if len(phases) > 1 else f"phase {phases} is"


def in_order(phases: str | set[str]) -> str:
    """The letters of `phases` once each, in the order A, B, C.

    >>> in_order("CA"), in_order({"B", "A"})
    ('AC', 'AB')
    """
    return "".join(phase for phase in PHASES if phase in phases)


def inoperable(kind: str) -> str:
    """How a device of this kind is usually made inoperable (common practice; the utility's rule decides)."""
    return _INOPERABLE[kind][0]


def made_inoperable(kind: str) -> str:
    """The same as it is reported when it is done; "" where there is a choice."""
    return _INOPERABLE[kind][1]


def step_words(*, operation: str, device: str, kind: str, phases: str, where: str, tag: str) -> str:
    """A step in full words, as it is given by voice.

    >>> where = "P-208, Quarry Lane"
    >>> step_words(operation="open", device="C-208", kind="cutout", phases="AB", where=where, tag="41-1")
    'Open C-208 A, B at P-208, Quarry Lane; remove the barrels and secure them; hang tag 41-1'

    Without a tag it protects nobody: load is picked up, or given back.

    >>> step_words(operation="open", device="N-7", kind="disconnect", phases="A", where=where, tag="")
    'Open N-7 A at P-208, Quarry Lane; no tag'
    """
    target = f"{device} {letters(phases)} at {where}"
    if not tag and operation != "close":
        return f"{'Open' if operation == 'open' else 'Check open'} {target}; no tag"
    if operation == "open":
        return f"Open {target}; {inoperable(kind)}; hang tag {tag}"
    if operation == "check_open":
        return f"Check open {target}; {inoperable(kind)}; hang tag {tag}"
    if operation == "remove_tag":
        return f"Remove tag {tag} from {target}; leave it open"
    return f"Close {target}"
