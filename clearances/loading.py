"""What a change of the network does to the balance of a circuit and to what hangs behind a link."""

from collections.abc import Iterable, Iterator, Sequence

from circuits.core.connected import fed_over, kva_behind
from circuits.core.network import Compiled, normally_open
from circuits.core.trace import Trace, trace
from circuits.models import Device

from .asleft import Kept
from .rules.loading import BehindLink, OnCircuit


def told(before: Compiled, after: Compiled, changes: Sequence[Kept]) -> str:
    """In sentences, for the transformers that the changes move: the circuits that they come from and go to,
    by phase in normal position, and every link that they hang behind then; for a new link what hangs behind
    it. "" without any of these. Cost: two traces, and a search for each transformer.
    """
    moved = [one["given"]["transformer"] for one in changes if one["change"] == "move_transformer"]
    linked = {one["given"]["device"]: one["given"]["link"] for one in changes if one["given"].get("link")}
    if not moved and not linked:
        return ""
    was, then = (trace(one, normally_open(one.network)) for one in (before, after))
    ways_before, ways = ([_way(state, name) for name in moved] for state in (was, then))
    behind = dict.fromkeys([*(device for way in ways for device in way), *linked])
    rows = Device.objects.filter(pk__in=behind).exclude(link="")
    links = dict(rows.values_list("pk", "link")) | linked
    heads = dict.fromkeys(way[0] for way in [*ways_before, *ways] if way)
    return "".join(
        f" {sentence}" for sentence in (*_circuits(was, then, heads), *_links(then, behind, links))
    )


def _way(state: Trace, transformer: str) -> tuple[str, ...]:
    compiled = state.compiled
    bank = compiled.network.transformer[transformer]
    return fed_over(compiled, normally_open(compiled.network), bank.primary_node, bank.phases)


def _circuits(was: Trace, then: Trace, heads: Iterable[str]) -> Iterator[str]:
    """By the first device from the station."""
    for head in heads:
        network = then.compiled.network
        circuit = network.circuit.get(network.device[head].circuit)
        name = circuit.name if circuit else head
        yield OnCircuit(name, kva_behind(was, head), kva_behind(then, head)).sentence


def _links(then: Trace, behind: Iterable[str], links: dict[str, str]) -> Iterator[str]:
    for device in behind:
        if device in links:
            yield BehindLink(device, links[device], kva_behind(then, device)).sentence
