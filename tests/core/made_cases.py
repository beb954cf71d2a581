"""Made-up networks with points and limits, to prove."""

from dataclasses import dataclass
from functools import cached_property

from hypothesis import strategies as st

from circuits.core.network import Network, compile_network
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import Proof, prove
from tests.core.made_networks import networks, parts
from tests.core.raw_graph import Point, RawGraph, points


@dataclass(frozen=True)
class Case:
    """A network with what is reported open, of that what is a point, and some limits."""

    network: Network
    opened: dict[str, str]
    tagged: dict[str, str]
    limits: tuple[Point, ...]

    def prove(self, **given: object) -> Proof:
        compiled = compile_network(self.network)
        return prove(compiled, self.limits, self.tagged, Opened(compiled, self.opened), **given)  # type: ignore[arg-type]

    @cached_property
    def raw(self) -> RawGraph:
        return RawGraph(self.network)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    network = draw(networks())
    opened = {one.id: draw(st.sampled_from(["", one.phases, *parts(one.phases)])) for one in network.devices}
    tagged = {one: draw(st.sampled_from(["", there, *parts(there)])) for one, there in opened.items()}
    everywhere = [point for node in network.nodes for point in points(node.id, node.phases)]
    limits = draw(st.sets(st.sampled_from(everywhere), min_size=1, max_size=4))
    return Case(network, opened, tagged, tuple(sorted(limits)))
