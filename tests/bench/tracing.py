"""The trace and one switching step against numpy, scipy and networkx on the raw graph of node-phases."""

import random
import tracemalloc
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import networkx as nx
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from circuits import checks, packagefile
from circuits.assemble import to_network
from circuits.core.joining import Ints
from circuits.core.network import Compiled, compile_network
from circuits.core.step import step
from circuits.core.trace import trace
from circuits.core.values import JOINING, Network, normally_open

from .measure import Row, race


def read(package: Path) -> Network:
    """The network of a package on disk, without a database."""
    checked = checks.check(packagefile.read(package))
    if checked.faults:
        raise ValueError(f"{package}: {checked.faults[0]}")
    return to_network({name: [row.values for row in rows] for name, rows in checked.rows.items()})


@dataclass(frozen=True)
class Raw:
    """The same network with no section made: an edge for each phase of a branch."""

    compiled: Compiled
    opened: dict[str, str]

    @cached_property
    def edges(self) -> Ints:
        """Ends of the edges that conduct, shape (edges, 2)."""
        index, network = self.compiled.index, self.compiled.network
        ends = [
            (index[branch.from_node, phase], index[branch.to_node, phase])
            for branch in (*network.branches, *network.devices)
            for phase in branch.phases
            if phase not in self.opened.get(branch.id, "")
        ]
        ends += [
            (index[bank.primary_node, phase], index[bank.secondary_node, phase])
            for bank in network.transformers
            if bank.connection in JOINING
            for phase in bank.phases
        ]
        return np.array(ends, dtype=np.int64)

    @cached_property
    def graph(self) -> "nx.Graph[int]":
        graph: nx.Graph[int] = nx.Graph()
        graph.add_nodes_from(range(len(self.compiled.points)))
        graph.add_edges_from(map(tuple, self.edges.tolist()))
        return graph

    def gather(self) -> Ints:
        """One pass over the edges: the smaller label of its ends, the least that any method does."""
        labels = np.arange(len(self.compiled.points))
        ends = self.edges
        return np.minimum(labels[ends[:, 0]], labels[ends[:, 1]])

    def scipy(self) -> int:
        count = len(self.compiled.points)
        ends = self.edges
        ones = np.ones(len(ends), dtype=np.bool_)
        found, _ = connected_components(coo_array((ones, (ends[:, 0], ends[:, 1])), (count, count)), False)
        return int(found)

    def networkx(self) -> int:
        return sum(1 for _ in nx.connected_components(self.graph))


def some_open(compiled: Compiled, more: int = 60) -> dict[str, str]:
    """The normal state with some more devices open, as on a day of storm, the same ones each time."""
    opened = normally_open(compiled.network)
    dice = random.Random(7)
    devices = compiled.network.devices
    return opened | {one.id: one.phases for one in dice.sample(devices, more)}


def rows(package: Path, on: str) -> Iterator[Row]:
    """The rows of the trace."""
    compiled = compile_network(read(package))
    opened = some_open(compiled)
    raw = Raw(compiled, opened)
    size = f"{on}: {len(compiled.points):,} node-phases, {len(compiled.network.devices):,} devices"

    def ours() -> object:
        return trace(compiled, opened).codes

    assert raw.scipy() == raw.networkx()
    for peer_name, peer, factor, target in (
        ("one numpy gather", raw.gather, 1.0, "no slower"),
        ("scipy, raw graph", raw.scipy, 1 / 10, "10 x as fast"),
        ("networkx, raw graph", raw.networkx, 1 / 200, "200 x as fast"),
    ):
        mine, theirs = race(ours, peer)
        yield Row("full trace", size, "ms", mine, peer_name, theirs, target, mine <= factor * theirs)


def steps(package: Path, on: str) -> Iterator[Row]:
    """What one operation changes and who is out: the mean of some devices of a kind that carry load."""
    compiled = compile_network(read(package))
    opened = normally_open(compiled.network)
    raw = Raw(compiled, opened)
    state = trace(compiled, opened)
    size = f"{on}: {len(compiled.points):,} node-phases, {len(compiled.network.devices):,} devices"
    for kind in ("cutout", "recloser", "breaker"):
        carrying = [one for one in compiled.network.devices if one.kind == kind and one.closed]
        some = random.Random(7).sample(carrying, min(len(carrying), 200))
        operations = [list(compiled.numbers([(one.id, one.phases)])) for one in some]

        def ours(operations: list[list[int]] = operations) -> object:
            found = [step(state, switches, opens=True) for switches in operations]
            return [(one.changes, one.services) for one in found]

        all_of_them, theirs = race(ours, raw.scipy)
        mine = all_of_them / len(operations)
        yield Row(
            f"one step, {kind}s", size, "ms", mine, "scipy, raw graph", theirs, "1/100", mine <= theirs / 100
        )


def memory(package: Path, on: str) -> Iterator[Row]:
    """What a compiled network that has answered once holds, beside the network that it was made of."""
    tracemalloc.start()
    network = read(package)
    held = tracemalloc.get_traced_memory()[0] / 1e6
    compiled = compile_network(network)
    trace(compiled, normally_open(network)).premises()
    grown = tracemalloc.get_traced_memory()[0] / 1e6 - held
    tracemalloc.stop()
    yield Row("memory of a compiled network", on, "MB", grown, "its rows", held, "300 MB", grown <= 300)
