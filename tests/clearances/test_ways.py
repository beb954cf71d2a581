"""Ways in as they are told: one over each device at the limits, with the number of the others."""

from itertools import combinations

import pytest

from circuits import checks, packagefile
from circuits.assemble import to_network
from circuits.core.isolation import LivePath, live_paths, words
from circuits.core.limits import between
from circuits.core.network import Compiled, compile_network
from clearances import facts
from tests.conftest import ROOT
from tests.stages import NETWORK


def way(source: str, phases: str, *devices: str) -> LivePath:
    return LivePath(source, phases, devices)


@pytest.fixture(scope="module")
def compiled() -> Compiled:
    rows = checks.check(packagefile.read(ROOT / NETWORK)).rows
    return compile_network(to_network({name: [row.values for row in found] for name, found in rows.items()}))


def test_the_first_over_each_device_stands_for_those_that_come_the_same_way() -> None:
    station, tie = way("ST-1", "ABC", "B-12", "C-221"), way("ST-2", "ABC", "N-7", "C-221")
    other_end, machine = way("ST-1", "ABC", "B-12", "C-208"), way("INV-9", "B", "D-9", "F-9", "C-221")
    assert facts.nearest([station, other_end, tie, machine]) == {station: 2, other_end: 0}


def test_a_way_that_reaches_a_further_phase_is_told_by_itself() -> None:
    one, more = way("INV-9", "B", "D-9", "C-221"), way("ST-1", "ABC", "B-12", "C-221")
    assert facts.nearest([one, more]) == {one: 0, more: 0}


def test_a_source_inside_the_limits_is_told_by_itself() -> None:
    one, other = way("GEN-1", "B"), way("GEN-2", "B")
    assert facts.nearest([one, other]) == {one: 0, other: 0}


def test_nothing_is_left_out_but_over_a_device_that_is_named(compiled: Compiled) -> None:
    """With any of the points blocked: there is a way told if there is one at all, and over every device over
    which there is one."""
    limits = between(compiled, "P-211", "P-213", "ABC").nodes
    points = {"C-208": "ABC", "C-221": "ABC", "D-212": "B", "D-219": "B", "B-12": "ABC", "N-7": "ABC"}
    for size in range(len(points) + 1):
        for chosen in combinations(points.items(), size):
            paths = live_paths(compiled, dict(chosen), limits)
            nearest = facts.nearest(paths)
            assert len(nearest) + sum(nearest.values()) == len(paths)
            assert {path.devices[-1:] for path in nearest} == {path.devices[-1:] for path in paths}
            for device in {path.devices[-1:] for path in paths}:
                reached = {phase for path in paths if path.devices[-1:] == device for phase in path.phases}
                said = {phase for path in nearest if path.devices[-1:] == device for phase in path.phases}
                assert said == reached


def test_the_words_say_how_many_more_there_are(compiled: Compiled) -> None:
    paths = live_paths(compiled, {}, between(compiled, "P-211", "P-213", "ABC").nodes)
    over = next(path for path in paths if path.devices[-1] == "C-221")
    beyond = [way(f"INV-{number}", "B", "F-9", "C-221") for number in (1, 2)]
    said = words(compiled, over)
    assert [told.words for told in facts.told(compiled, [over])] == [said]
    assert facts.told(compiled, [over, *beyond[:1]])[0].words == f"{said}, and 1 more way over C-221"
    assert facts.told(compiled, [over, *beyond])[0].words == f"{said}, and 2 more ways over C-221"
