"""The planner against all plans there are, on 200 random small networks, and networkx' minimum cut."""

import networkx as nx
import pytest

from circuits.core.isolation import live_paths
from circuits.core.network import compile_network
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import CannotPlanError, Plans
from circuits.core.trace import trace
from tests.core.made_plans import ByTrying, Case, case
from tests.core.raw_graph import RawGraph, points

SMALL = 3**7


def planned(made: Case) -> Plans | None:
    try:
        return plans(compile_network(made.network), made.question, how_many=2)
    except CannotPlanError:
        return None


@pytest.mark.parametrize("hundred", [0, 1])
def test_the_best_two_are_those_of_trying_every_plan(hundred: int) -> None:
    closed_ties = shared = compared = number = 0
    while compared < 100:
        made = case(1000 * hundred + number)
        number += 1
        tried = ByTrying(made)
        if tried.size > SMALL:
            continue
        compared += 1
        found = planned(made)
        if found is None:
            assert not tried.stations_part()
            continue
        assert found.thrown_away == ()
        every = list(tried.all())
        first = found.plans[0]
        assert first.price == pytest.approx(min(one.price for one in every), abs=1e-5), made
        used = {point.device.id for point in first.points} | {
            one.device.id for one in first.moved if not one.closes
        }
        price = pytest.approx(first.price, abs=1e-5)
        same = [one for one in every if one.used == used and one.price == price]
        assert {*first.out, *first.partly} in [one.out for one in same]
        others = [one.price for one in every if not same[0].parting_stations <= one.used]
        assert [one.price for one in found.plans[1:]] == pytest.approx(sorted(others)[:1], abs=1e-5), made
        closed_ties += bool(first.closes)
        shared += bool(first.shared)
    assert closed_ties > 10
    assert shared > 10


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_has_fewer_open_phases_than_the_minimum_cut(seed: int) -> None:
    made = case(seed)
    found = planned(made)
    if found is None:
        return
    graph: nx.Graph[object] = nx.Graph()
    machines = {*made.question.agreed, *found.undecided}
    for a, b, data in RawGraph(made.network).coupled({}).edges(data=True):
        capacity = 1 if data["row"][0] == "device" else float("inf")
        known = graph.get_edge_data(a, b, {"capacity": 0})["capacity"]
        graph.add_edge(a, b, capacity=known + capacity)
    for source in made.network.sources:
        if not source.interlocked and source.id not in machines:
            for point in points(source.node, source.phases):
                graph.add_edge("sources", point, capacity=float("inf"))
    for node, phases in made.question.limits:
        for point in points(node, phases):
            graph.add_edge("limits", point, capacity=float("inf"))
    least, _ = nx.minimum_cut(graph, "sources", "limits")
    for plan in found.plans:
        assert sum(len(point.phases) for point in plan.points) >= least


@pytest.mark.parametrize("seed", range(20))
def test_the_same_question_has_the_same_answer_and_every_plan_parts(seed: int) -> None:
    made = case(seed)
    found = planned(made)
    assert found == planned(made)
    compiled = compile_network(made.network)
    for plan in found.plans if found else ():
        blocked = {point.device.id: point.phases for point in plan.points}
        left = {path.source_id for path in live_paths(compiled, blocked, made.question.limits)}
        assert found is not None
        assert left <= set(found.undecided)
        opened = dict(made.question.open_now)
        for point in plan.points:
            opened[point.device.id] = "".join(sorted({*opened.get(point.device.id, ""), *point.phases}))
        for one in plan.moved:
            before = set(opened.get(one.device.id, ""))
            after = before - set(one.phases) if one.closes else before | set(one.phases)
            opened[one.device.id] = "".join(sorted(after))
        now = trace(compiled, made.question.open_now).not_energized()
        after_all = trace(compiled, opened).not_energized()
        assert {*plan.out, *plan.partly} == after_all.keys() - now.keys()
