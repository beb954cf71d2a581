"""What circuits must ask of whoever stands above it, by names in the settings, since it does not know them.

Where a setting is missing or empty the answer is the one of a network on its own: nothing against an
import, any signed-in person may look, no tags and no work clearances.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.utils.module_loading import import_string

from circuits.oneline import Band

Ids = Mapping[str, set[str]]


@dataclass(frozen=True, slots=True)
class Marks:
    """What lies on the network: the numbers of the tags by device, and the work clearances."""

    tags: Mapping[str, Sequence[str]] = field(default_factory=dict)
    bands: Sequence[Band] = ()


def reasons_against_import(removed: Ids, changed: Ids) -> list[str]:
    """`NETWORK_MAY_IMPORT`, a callable of (removed, changed), ids by table: sentences why an import may not
    be."""
    asked: Callable[[Ids, Ids], list[str]] | None = _asked("NETWORK_MAY_IMPORT")
    return asked(removed, changed) if asked else []


def may_look(user: object) -> bool:
    """`NETWORK_MAY_LOOK`, a callable of (user): whether this person may see circuits, devices and reports."""
    asked: Callable[[object], bool] | None = _asked("NETWORK_MAY_LOOK")
    return asked(user) if asked else True


def marks() -> Marks:
    """`NETWORK_MARKS`, a callable without arguments: the tags and work clearances to be drawn."""
    asked: Callable[[], Marks] | None = _asked("NETWORK_MARKS")
    return asked() if asked else Marks()


def _asked(setting: str) -> Any:
    name = getattr(settings, setting, "")
    return import_string(name) if name else None
