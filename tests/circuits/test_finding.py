"""Finding things of the network by what a person reads from a pole or says on the radio."""

import time

import pytest

from circuits import finding
from circuits.core.network import Compiled, Device, Network, Node, compile_network
from tests.circuits.feeder import feeder
from tests.core.conftest import demo as demo


def found(compiled: Compiled, query: str) -> dict[str, list[str]]:
    return {group.kind: [thing.id for thing in group.things] for group in finding.find(compiled, query)}


@pytest.mark.parametrize("said", ["C-208", "c208", "c 208", "C.208"])
def test_a_device_however_its_number_is_typed(demo: Compiled, said: str) -> None:
    assert found(demo, said) == {"device": ["C-208"]}


def test_a_number_alone_finds_all_that_bears_it(demo: Compiled) -> None:
    assert found(demo, "217") == {"device": ["F-217", "S-217"], "pole": ["P-217"], "transformer": ["T-217"]}


def test_a_street_and_a_circuit_by_a_part_of_their_names(demo: Compiled) -> None:
    streets = found(demo, "quarry")
    assert streets["street"] == ["Quarry Lane"]
    assert found(demo, "feeder 14")["circuit"] == ["14"]


def test_by_the_label_too(demo: Compiled) -> None:
    assert "D-219" in found(demo, "standby generator")["device"]


@pytest.mark.parametrize("nothing", ["", " ", "-", "no such thing"])
def test_nothing(demo: Compiled, nothing: str) -> None:
    assert found(demo, nothing) == {}


def test_the_exact_number_stands_before_those_that_hold_it() -> None:
    names = ["C-1208", "C-2080", "N-208", "208-C", "208"]
    nodes = tuple(Node(one, "A") for one in "ab")
    compiled = compile_network(
        Network(nodes=nodes, devices=tuple(Device(name, "a", "b", "A", "A") for name in names))
    )
    assert found(compiled, "208")["device"] == ["208", "N-208", "208-C", "C-1208", "C-2080"]


def test_where_it_is_drawn(demo: Compiled) -> None:
    (group,) = finding.find(demo, "F-217")
    (thing,) = group.things
    assert (thing.circuit, thing.anchor) == ("12", "device-F-217")
    pole = next(group for group in finding.find(demo, "P-217") if group.kind == "pole").things[0]
    assert pole.here == ("F-217", "S-217", "T-217")


def test_more_than_can_be_shown_is_counted_and_time_is_short() -> None:
    compiled = feeder()
    finding.find(compiled, "1")  # the names are gathered once a revision
    began = time.process_time()
    groups = {group.kind: group for group in finding.find(compiled, "F-")}
    assert time.process_time() - began < 0.1
    assert len(groups["device"].things) == finding.SHOWN
    assert groups["device"].more == 560 - finding.SHOWN
