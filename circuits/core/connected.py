"""What is connected where, by the size of transformers: behind a device, and over which devices it is fed."""

from collections.abc import Collection, Mapping

from circuits.core.answers import Answer
from circuits.core.isolation import live_paths
from circuits.core.network import Compiled
from circuits.core.step import step
from circuits.core.trace import Trace
from circuits.core.values import PHASES


def kva_at(compiled: Compiled, sections: Collection[int]) -> dict[str, float]:
    """The kVA of the transformers whose primary lies in these sections, by phase; the size of each is spread
    evenly over the phases of its primary."""
    kva = dict.fromkeys(PHASES, 0.0)
    for one in compiled.network.transformers:
        for phase in one.phases:
            if int(compiled.section[compiled.index[one.primary_node, phase]]) in sections:
                kva[phase] += one.kva / len(one.phases)
    return {phase: size for phase, size in kva.items() if size}


def kva_behind(state: Trace, device: str) -> dict[str, float]:
    """The kVA of the transformers that would lose their supply if every phase of a device opened, by phase.

    What another way feeds as well does not count. Raises ValueError for a device that is not there. Cost:
    what `circuits.core.step` costs.
    """
    compiled = state.compiled
    known = compiled.network.device.get(device)
    switches = compiled.numbers([(device, known.phases if known else PHASES)])
    lost = {
        section
        for change in step(state, sorted(set(switches)), opens=True).changes
        if change.before is Answer.ENERGIZED
        for section in change.sections
    }
    return kva_at(compiled, lost)


def fed_over(compiled: Compiled, open_phases: Mapping[str, str], node: str, phases: str) -> tuple[str, ...]:
    """The devices between a station and these phases of a node, the station's first; by the way with the
    fewest, where there is more than one, and none where there is no way. Cost: as `live_paths`."""
    for path in live_paths(compiled, open_phases, [(node, phases)]):
        if compiled.network.source[path.source_id].is_station:
            return path.devices
    return ()
