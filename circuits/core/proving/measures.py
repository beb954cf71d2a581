"""What would settle a way into the limits that nothing blocks: an act of a person at a named place."""

from collections.abc import Sequence
from dataclasses import dataclass

from circuits.core.network import Compiled
from circuits.core.proving.outward import IN_A_SERVICE
from circuits.core.values import Source, in_words
from circuits.core.ways import Element, LivePath


@dataclass(frozen=True, slots=True)
class Measure:
    """`kind` is "open", "check", "look", "test" or "limits"; `device` the one to be operated or looked at, ""
    for none; `words` the sentence.
    """

    kind: str
    device: str
    words: str


def doubtful(source: Source) -> bool:
    """Whether a machine may be kept off by a transfer switch that nobody on the board has seen.

    >>> [doubtful(Source("G", "n", "standby", "B", means)) for means in ("visible", "interlocked", "unknown")]
    [False, True, True]
    """
    switched_over = source.kind not in ("station", "inverter")
    return switched_over and source.means_of_disconnection in ("interlocked", "unknown")


def measure(
    compiled: Compiled, path: LivePath, untagged: str, others: Sequence[str], *, agreed: bool
) -> Measure:
    """What a person would do about a way past the points.

    `untagged` is the device on it that is reported open but is no tagged point, "" for none; `others` are
    sources that come in the same way last; `agreed`: the holder has agreed to work with these as they are.
    """
    source = compiled.network.source[path.source_id]
    called = ", ".join([f"{source.kind} {source.id}", *others])
    devices = path.over
    at = f"{_pole(compiled, path)} on {in_words(path.phases)}"
    if agreed:
        return Measure(
            "test", "", f"Agreed on: test for voltage at {at}, ground sets stand against {called}."
        )
    if untagged:
        one = next(element for element in reversed(devices) if element.id == untagged)
        text = f"Check {_named(compiled, one)} open, make it inoperable, hang a tag of this clearance."
        return Measure("check", one.id, text)
    if source.interlocked:
        return Measure("look", "", f"Have the transfer switch of {called} looked at.")
    if services := [element for element in path.elements if element.kind in IN_A_SERVICE]:
        text = (
            f"Test for voltage at {at}: whether service {services[-1].id} carries any over is not on record."
        )
        return Measure("test", "", text)
    if not devices:
        if source.is_station:
            return Measure("limits", "", f"Draw the limits so that a device lies between them and {called}.")
        text = (
            f"No device parts {called} from the limits: test for voltage at {at}, put ground sets on, agree."
        )
        return Measure("test", "", text)
    # A machine is best parted at its own disconnect; several at what they have in common.
    one = devices[-1] if source.is_station or others else devices[0]
    text = f"Open {_named(compiled, one)}, make it inoperable, hang a tag of this clearance"
    look = f"; or have the transfer switch of {called} looked at" if doubtful(source) else ""
    return Measure("open", one.id, f"{text}{look}.")


def _named(compiled: Compiled, element: Element) -> str:
    structure = compiled.network.structure.get(compiled.network.device[element.id].structure)
    at = f" ({structure.label or structure.id})" if structure else ""
    return f"{element.id}{at} on {in_words(element.phase)}"


def _pole(compiled: Compiled, path: LivePath) -> str:
    node = path.elements[-1].id
    return compiled.network.pole(node) or node
