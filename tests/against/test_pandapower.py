"""The trace against `pandapower.topology` on two published networks, in the states of their switches.

Sources: `mv_oberrhein`, a 20 kV network with its 141 MV/LV substations, and the medium-voltage benchmark of
CIGRE Task Force C6.04.02 (2014) with its photovoltaic and wind units; both come with pandapower.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import networkx as nx
import pandapower as pp
import pandapower.networks
import pandapower.topology
import pytest
from hypothesis import settings

from circuits.assemble import to_network
from circuits.core.network import Compiled, compile_network, normally_open
from circuits.core.trace import Answer, trace
from tests.against import pandapower_package as package


@dataclass
class Judged:
    """The same network in both libraries."""

    net: pp.pandapowerNet
    compiled: Compiled

    @property
    def switches(self) -> list[int]:
        return list(self.net.switch.index)

    def assert_alike(self, closed: Iterable[int]) -> set[Answer]:
        """Move the switches and compare every phase of every bus; which answers there were."""
        self.net.switch["closed"] = self.net.switch.index.isin(list(closed))
        graph = pandapower.topology.create_nxgraph(self.net)
        dead = pandapower.topology.unsupplied_buses(self.net, mg=graph)
        machines = set(self.net.sgen.bus)
        expected = dict.fromkeys(self.net.bus.index, Answer.ENERGIZED)
        for part in nx.connected_components(graph.subgraph(dead)):
            answer = Answer.GENERATOR if part & machines else Answer.DEENERGIZED
            expected.update(dict.fromkeys(part, answer))
        opened = self.net.switch.index[~self.net.switch.closed]
        state = trace(self.compiled, {package.device(number): "ABC" for number in opened})
        found = {
            bus: {state.answer(package.bus(bus), phase) for phase in "ABC"} for bus in self.net.bus.index
        }
        assert found == {bus: {answer} for bus, answer in expected.items()}
        return set(expected.values())


@pytest.fixture(scope="module", params=["mv_oberrhein", "cigre_mv"])
def judged(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Judged:
    net = (
        pandapower.networks.mv_oberrhein(include_substations=True)
        if request.param == "mv_oberrhein"
        else pandapower.networks.create_cigre_network_mv(with_der="pv_wind")
    )
    folder: Path = tmp_path_factory.mktemp(request.param)
    checked = package.check(net, folder)
    assert (checked.faults, checked.warnings) == ([], [])
    rows = {name: [row.values for row in found] for name, found in checked.rows.items()}
    return Judged(net, compile_network(to_network(rows)))


# It solves its load flow as it is loaded, from data older than pandapower's newest columns.
pytestmark = pytest.mark.filterwarnings("ignore:tap_dependency_table is missing")


def normally_closed(judged: Judged) -> set[int]:
    opened = normally_open(judged.compiled.network)
    return {number for number in judged.switches if package.device(number) not in opened}


def test_in_the_normal_state_every_bus_is_supplied(judged: Judged) -> None:
    assert judged.assert_alike(normally_closed(judged)) == {Answer.ENERGIZED}


def test_each_switch_operated_alone(judged: Judged) -> None:
    closed = normally_closed(judged)
    answers = set().union(*(judged.assert_alike(closed ^ {number}) for number in judged.switches))
    assert answers >= {Answer.ENERGIZED, Answer.GENERATOR}


def test_random_states_of_all_switches(judged: Judged) -> None:
    chance = random.Random(1939)
    answers = set()
    for _ in range(settings().max_examples):
        share = chance.choice([0.01, 0.05, 0.2, 0.5])
        closed = [number for number in judged.switches if chance.random() > share]
        answers |= judged.assert_alike(closed)
    assert answers >= {Answer.ENERGIZED, Answer.GENERATOR, Answer.DEENERGIZED}
