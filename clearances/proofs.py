"""The proof of isolation of a clearance, from rows; and what breaks it, asked of many at every report."""

import functools
from collections.abc import Iterable, Iterator, Mapping

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core import isolation
from circuits.core.network import Compiled
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import Line, Proof, prove

from . import facts
from .models import Clearance
from .rules.facts import Path


def proof_of(clearance: Clearance, points: Mapping[str, str], *, planned: bool = False) -> Proof:
    """The proof on the network in use with the devices as they are reported.

    `points` is device -> the phases that block, as reported; of a `planned` one what its order would block,
    and the proof says no hour of reports. Cost: see `circuits.core.proving.proof.prove`.
    """
    compiled = snapshot.compiled()
    return prove(
        compiled,
        facts.limits_of(clearance, compiled),
        points,
        _opened(compiled, tuple(sorted(positions.open_phases().items()))),
        agreed={row.source_id for row in clearance.dispositions.all()},
        as_of=None if planned else timezone.now(),
    )


@functools.lru_cache(maxsize=4)
def _opened(compiled: Compiled, phases: tuple[tuple[str, str], ...]) -> Opened:
    """Worked out once for all that is asked on the same reports."""
    there = compiled.network.device
    return Opened(compiled, {device: letters for device, letters in phases if device in there})


def over(line: Line) -> Iterator[str]:
    """What stays the same of a broken line however its way is told: over which device, on which phase."""
    last = line.path.devices[-1] if line.path.devices else line.source
    return (f"{last} {phase}" for phase in line.phases)


def broken(clearance: Clearance, points: Mapping[str, str]) -> tuple[Line, ...]:
    """The lines of the proof past which no clearance may be given: none while it holds.

    Cost: a search of what lies behind the points; a proof only where something comes in.
    """
    compiled = snapshot.compiled()
    blocked = facts.still_blocks(compiled, points)
    agreed = {row.source_id for row in clearance.dispositions.all()}
    if not isolation.let_in(compiled, blocked, facts.limits_of(clearance, compiled), agreed):
        return ()
    return proof_of(clearance, points).broken


def told(lines: Iterable[Line]) -> tuple[Path, ...]:
    """Broken lines as a flag or an alarm says them."""
    return tuple(Path(line.source, line.phases, f"{line.words}{_and_more(line)}") for line in lines)


def _and_more(line: Line) -> str:
    if not line.further:
        return ""
    sources = f"{len(line.further)} more source{'s' * (len(line.further) > 1)}"
    return f", and {sources} that way"
