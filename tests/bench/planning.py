"""The best plan, proven, beside the fewest points that part the same limits, which networkx finds."""

from collections.abc import Iterator
from functools import partial

import networkx as nx

from circuits.core.network import Compiled, compile_network
from circuits.core.planning.loading import Ratings
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import Question
from tests.core.big import big

from .measure import Row, race

FEEDERS = (2, 6)  # about 1,150 and 3,450 sections
LIMITS = (("F1-2-20", "ABC"),)


def rows() -> Iterator[Row]:
    """A part of a main in the middle of a feeder with ties at its end, every device rated."""
    for feeders in FEEDERS:
        compiled = compile_network(big(feeders))
        ratings = Ratings({("device", one.id): 600.0 for one in compiled.network.devices})
        question = Question(LIMITS, compiled.network.normally_open, ratings=ratings, by_phase=False)
        (plan,) = plans(compiled, question, how_many=1).plans
        ours, peer = race(partial(plans, compiled, question, how_many=1), partial(cut, compiled))
        yield Row(
            "best plan, proven",
            f"{compiled.sections:,} sections",
            "ms",
            ours,
            "networkx minimum cut",
            peer,
            "<= 1000 ms, gap 0" if feeders == FEEDERS[0] else "none",
            plan.proven and (ours <= 1000 or feeders != FEEDERS[0]),
        )


def cut(compiled: Compiled) -> int:
    """How few phases of devices part the limits from the station."""
    graph: nx.Graph[object] = nx.Graph()
    for a, b in compiled.switch_ends.tolist():
        graph.add_edge(a, b, capacity=1)
    for coupling in compiled.couplings:
        first, *others = {int(compiled.section[point]) for point in coupling.members}
        graph.add_edges_from((first, other) for other in others)
    for source in compiled.network.sources:
        for phase in source.phases:
            graph.add_edge("sources", int(compiled.section[compiled.point(source.node, phase)]))
    for node, phases in LIMITS:
        for phase in phases:
            graph.add_edge("limits", int(compiled.section[compiled.point(node, phase)]))
    return int(nx.minimum_cut_value(graph, "sources", "limits"))
