"""What calls say together that none of them says alone."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from .flags import Flag

DOUBTED = 2  # calls from outside at one device, from which on the record is in doubt (common practice)


@dataclass(frozen=True, slots=True)
class Heard:
    """A call that nobody has answered: from where, near which device that stands open, behind which
    transformer ("" where that is not known).
    """

    place: str
    device: str = ""
    transformer: str = ""


def outside(calls: Iterable[Heard]) -> Iterator[Flag]:
    """Customers who are out although neither planned work nor a known trouble takes them out."""
    for device, places in _by(calls, "device"):
        n = len(places)
        near = f"nearest device {device}" if device else "no device near it stands open"
        text = f"{n} call{'s' * (n > 1)} outside the planned area, {near}: {', '.join(places)}."
        if n < DOUBTED:
            yield Flag("call_outside", device, text, "now")
        else:
            text += " Does the record have these customers behind the right transformer?"
            yield Flag("connectivity", device, text, "now")


def half(calls: Iterable[Heard]) -> Iterator[Flag]:
    """Half bright, half dim, by transformer: a lost neutral until somebody has looked."""
    for transformer, places in _by(calls, "transformer"):
        n = len(places)
        text = (
            f"Half bright, half dim behind {transformer or 'a transformer that is not known'}, {n} "
            f"call{'s' * (n > 1)} ({', '.join(places)}): a lost neutral? Ask about the neutral at the cut "
            "span."
        )
        yield Flag("lost_neutral", transformer, text, "now")


def _by(calls: Iterable[Heard], what: str) -> list[tuple[str, list[str]]]:
    found: dict[str, list[str]] = defaultdict(list)
    for call in calls:
        found[getattr(call, what)].append(call.place)
    return sorted(found.items())
