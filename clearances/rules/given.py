"""Can what was given to a verb be kept and read at all? Asked of every verb, before its own rules."""

import datetime
import unicodedata
from collections.abc import Iterator, Mapping

from .clauses import LEGIBLE
from .refusal import Refusal

LONGEST = 1000  # characters of one answer; the forms allow less
MOST = 200  # items of one list
EARLIEST = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
LATEST = datetime.datetime(2100, 1, 1, tzinfo=datetime.UTC)
WHITE = "\t\n\r"
# Unicode's bidirectional embeddings, overrides and isolates: with them C-208 can be made to read C-802.
TURNING = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))}


def unfit(given: Mapping[str, object]) -> tuple[Refusal, ...]:
    """Refusals of texts that are too long or hold characters which nobody can read, and of times that no
    clock of this board has shown.

    >>> [refusal.text for refusal in unfit({"why": "rotten\\x07 pole"})]
    ['What is written under «why» holds a character that can not be read (U+0007).']
    """
    return tuple(refusal for name, value in given.items() for refusal in _of(name.replace("_", " "), value))


def _of(name: str, value: object) -> Iterator[Refusal]:
    if isinstance(value, str):
        yield from _of_text(name, value)
    elif isinstance(value, list | tuple):
        if len(value) > MOST:
            yield _too_long(name, f"{len(value)} items, at most {MOST} fit")
        for item in value:
            yield from _of(name, item)
    elif isinstance(value, Mapping):
        for part, item in value.items():
            yield from _of(name, part)
            yield from _of(f"{name} {part}", item)
    elif isinstance(value, datetime.datetime) and not EARLIEST <= value < LATEST:
        text = f"The time under «{name}» lies in the year {value.year}."
        yield Refusal("no_such_time", name, text, LEGIBLE, "Write the day and the time again.")


def _of_text(name: str, text: str) -> Iterator[Refusal]:
    if len(text) > LONGEST:
        yield _too_long(name, f"{len(text)} characters, at most {LONGEST} fit")
    wrong = next((sign for sign in text if not _legible(sign)), None)
    if wrong is not None:
        said = f"What is written under «{name}» holds a character that can not be read (U+{ord(wrong):04X})."
        yield Refusal("not_legible", name, said, LEGIBLE, "Type it again by hand.")


def _legible(sign: str) -> bool:
    return sign in WHITE or (unicodedata.category(sign) not in ("Cc", "Cs") and sign not in TURNING)


def _too_long(name: str, how: str) -> Refusal:
    text = f"What is written under «{name}» is too long: {how}."
    return Refusal("too_long", name, text, LEGIBLE, "Say it in fewer words.")
