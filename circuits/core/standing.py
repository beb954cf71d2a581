"""How devices stand: device id -> the phases that are open."""

from collections.abc import Mapping

from circuits.core.values import letters


def still_there(phases: str, has: str) -> str:
    """Those of some phases that a device still `has`; all that it has, where a tap has moved away from them
    since they were written down.

    >>> still_there("AB", "BC"), still_there("B", "C")
    ('B', 'C')
    """
    return letters(set(phases) & set(has)) or has


def also_open(stands: Mapping[str, str], more: Mapping[str, str]) -> dict[str, str]:
    """The open phases of devices once `more` opens on top of what stands open.

    >>> also_open({"C-1": "A"}, {"C-1": "C", "C-2": "B"})
    {'C-1': 'AC', 'C-2': 'B'}
    """
    return {
        **stands,
        **{device: letters({*stands.get(device, ""), *phases}) for device, phases in more.items()},
    }


def without(stands: Mapping[str, str], closed: Mapping[str, str]) -> dict[str, str]:
    """The open phases of devices once those of `closed` close.

    >>> without({"C-1": "AC", "C-2": "B"}, {"C-1": "A"})
    {'C-1': 'C', 'C-2': 'B'}
    """
    return {device: letters(set(phases) - set(closed.get(device, ""))) for device, phases in stands.items()}
