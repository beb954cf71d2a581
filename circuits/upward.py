"""What circuits must ask of whoever stands above it, by names in the settings, since it does not know them.

Where a setting is missing or empty the answer is the one of a network on its own: nothing against an
import, nobody to be told of one, any signed-in person may look and import, no tags and no work clearances.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.utils.module_loading import import_string

from circuits.core.network import Compiled
from circuits.models import NetworkRevision
from circuits.oneline import Band

Ids = Mapping[str, set[str]]


@dataclass(frozen=True, slots=True)
class Marks:
    """What lies on the network: the numbers of the tags by device, the work clearances, and by device what
    else stands there, in words of its own."""

    tags: Mapping[str, Sequence[str]] = field(default_factory=dict)
    bands: Sequence[Band] = ()
    notes: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TagOn:
    """A tag that hangs at a device: on which phases, whose it is in words, and the page of its work clearance
    ("" where that is not for whoever asks)."""

    number: str
    phases: str
    words: str
    url: str = ""


@dataclass(frozen=True, slots=True)
class Proposal:
    """An import before it is done: the ids that it removes, changes and adds by table, the columns that it
    changes by table and id, and the network after it."""

    removed: Ids
    changed: Ids
    network: Compiled
    added: Ids = field(default_factory=dict)
    cells: Mapping[str, Mapping[str, set[str]]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Sentences: why an import may not be, and what it does to plans that nobody relies on yet."""

    against: tuple[str, ...] = ()
    consequences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class InTheWay:
    """What others have in a window, each with whose it is in words: devices that are not to be operated, and
    nodes that no new feed is to cross. `shared` are the devices that are points of others too, each with the
    sentence that says so; those of them that are not `kept` may be opened as a point."""

    kept: Mapping[str, str] = field(default_factory=dict)
    shared: Mapping[str, str] = field(default_factory=dict)
    not_crossed: Mapping[str, str] = field(default_factory=dict)


def in_the_way(window: Any, but: int) -> InTheWay:
    """`NETWORK_IN_THE_WAY`, a callable of (start and end, or None for now; the number of a work clearance
    that is left out, 0 for none)."""
    asked: Callable[[Any, int], InTheWay] | None = _asked("NETWORK_IN_THE_WAY")
    return asked(window, but) if asked else InTheWay()


def may_import(proposal: Proposal) -> Verdict:
    """`NETWORK_MAY_IMPORT`, a callable of (proposal), asked before an import is decided on and once more when
    nothing else can happen until it is done."""
    asked: Callable[[Proposal], Verdict] | None = _asked("NETWORK_MAY_IMPORT")
    return asked(proposal) if asked else Verdict()


def imported(revision: NetworkRevision, by: object, consequences: Sequence[str]) -> None:
    """`NETWORK_IMPORTED`, a callable of (revision, by, consequences), told within the import's transaction;
    `by` is a person of the board or None."""
    told: Callable[[NetworkRevision, object, Sequence[str]], None] | None = _asked("NETWORK_IMPORTED")
    if told:
        told(revision, by, consequences)


def may_change(user: object) -> bool:
    """`NETWORK_MAY_CHANGE`, a callable of (user): whether this person may hand in a network."""
    asked: Callable[[object], bool] | None = _asked("NETWORK_MAY_CHANGE")
    return asked(user) if asked else True


def may_look(user: object) -> bool:
    """`NETWORK_MAY_LOOK`, a callable of (user): whether this person may see circuits, devices and reports."""
    asked: Callable[[object], bool] | None = _asked("NETWORK_MAY_LOOK")
    return asked(user) if asked else True


def marks() -> Marks:
    """`NETWORK_MARKS`, a callable without arguments: the tags and work clearances to be drawn."""
    asked: Callable[[], Marks] | None = _asked("NETWORK_MARKS")
    return asked() if asked else Marks()


def tags_on(device_id: str, user: object) -> list[TagOn]:
    """`NETWORK_TAGS_ON`, a callable of (device id, user): the tags that hang at a device, as `user` may see
    them."""
    asked: Callable[[str, object], list[TagOn]] | None = _asked("NETWORK_TAGS_ON")
    return asked(device_id, user) if asked else []


def standing_on(device_id: str) -> list[str]:
    """`NETWORK_STANDING_ON`, a callable of (device id): what else stands at a device, in sentences."""
    asked: Callable[[str], list[str]] | None = _asked("NETWORK_STANDING_ON")
    return asked(device_id) if asked else []


def hit_by_closing(device_id: str, phases: str) -> list[str]:
    """`NETWORK_HIT_BY_CLOSING`, a callable of (device id, phases): what stands against a close of a device
    and whom it would hit, in sentences."""
    asked: Callable[[str, str], list[str]] | None = _asked("NETWORK_HIT_BY_CLOSING")
    return asked(device_id, phases) if asked else []


def _asked(setting: str) -> Any:
    name = getattr(settings, setting, "")
    return import_string(name) if name else None
