"""One switching step against a full recompute, on made-up networks in every state."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuits.core.network import (
    Compiled,
    Device,
    Network,
    Node,
    Source,
    Transformer,
    compile_network,
    normally_open,
)
from circuits.core.step import Step, step
from circuits.core.trace import Answer, Trace, trace
from tests import networks
from tests.core.big import big
from tests.core.made_networks import states

State = tuple[Network, dict[str, str]]


def moved(compiled: Compiled, open_phases: dict[str, str], switches: list[int], *, opens: bool) -> Trace:
    """The whole trace after these switches are operated."""
    after = {device.id: set(open_phases.get(device.id, "")) for device in compiled.network.devices}
    for number in switches:
        switch = compiled.switches[number]
        change = after[switch.device.id].add if opens else after[switch.device.id].discard
        change(switch.phase)
    return trace(compiled, {name: "".join(sorted(phases)) for name, phases in after.items()})


def assert_same(found: Step, before: Trace, after: Trace) -> None:
    compiled = before.compiled
    expected = [after.answers[island] for island in after.islands]
    assert [found.answer(section) for section in range(compiled.sections)] == expected
    changed = {
        section: (before.answers[island], answer)
        for section, (island, answer) in enumerate(zip(before.islands, expected, strict=True))
        if before.answers[island] is not answer
    }
    assert {
        section: (change.before, change.after) for change in found.changes for section in change.sections
    } == changed
    assert sum(len(change.sections) for change in found.changes) == len(changed)
    had, has = before.premises(), after.premises()
    assert {
        premises: answers
        for number, answers in found.services.items()
        for premises in compiled.graph.services[number].premises
    } == {
        name: (had[name].answer, has[name].answer) for name in had if had[name].answer is not has[name].answer
    }


@given(states(), st.data())
def test_a_step_gives_what_the_whole_trace_gives(case: State, data: st.DataObject) -> None:
    network, open_phases = case
    compiled = compile_network(network)
    before = trace(compiled, open_phases)
    every = range(len(compiled.switches))
    switches = data.draw(st.lists(st.sampled_from(every), max_size=3, unique=True) if every else st.just([]))
    opens = data.draw(st.booleans())
    after = moved(compiled, open_phases, switches, opens=opens)
    assert_same(step(before, switches, opens=opens), before, after)


def operated(compiled: Compiled, open_phases: dict[str, str], *devices: str, opens: bool) -> Step:
    """A step of all phases of some devices, held against the whole trace."""
    before = trace(compiled, open_phases)
    switches = [number for number, switch in enumerate(compiled.switches) if switch.device.id in devices]
    found = step(before, switches, opens=opens)
    assert_same(found, before, moved(compiled, open_phases, switches, opens=opens))
    return found


def two_ways() -> Compiled:
    """
    *ST -- p -[1]- a (T-1) x (T-3) c
            `-[2]- b (T-2) y (T-4) x,   (T-5) from x to y: each of x and y may feed the other
    """
    ends = ("T-1", "a", "x"), ("T-2", "b", "y"), ("T-3", "x", "c"), ("T-4", "y", "x"), ("T-5", "x", "y")
    return compile_network(
        Network(
            nodes=tuple(Node(name, "A") for name in "pabxyc"),
            devices=(Device("1", "p", "a", "A", closed="A"), Device("2", "p", "b", "A", closed="A")),
            transformers=tuple(Transformer(*one, "A", "wye-wye") for one in ends),
            sources=(Source("ST", "p", "station", "A"),),
        )
    )


class TestWhatIsFedOverBanks:
    def test_another_bank_of_the_same_rank_keeps_it_energized(self) -> None:
        assert [change.after for change in operated(two_ways(), {}, "1", opens=True).changes] == [
            Answer.BACKFED
        ]

    def test_two_that_only_feed_each_other_are_not_energized(self) -> None:
        changes = operated(two_ways(), {}, "1", "2", opens=True).changes
        assert {change.after for change in changes} == {Answer.DEENERGIZED}
        assert len(changes) == 5

    def test_and_come_back_together(self) -> None:
        changes = operated(two_ways(), {"1": "A", "2": "A"}, "2", opens=False).changes
        assert sorted(change.after for change in changes) == [Answer.ENERGIZED] * 4 + [Answer.BACKFED]


class TestOneIsland:
    def test_a_piece_of_a_piece(self) -> None:
        """*ST -- a -[1]- b -[2]- c -[3]- d, and 1, 2, 3 open at once."""
        ends = ("1", "a", "b"), ("2", "b", "c"), ("3", "c", "d")
        compiled = compile_network(
            Network(
                nodes=tuple(Node(name, "A") for name in "abcd"),
                devices=tuple(Device(*one, "A", closed="A") for one in ends),
                sources=(Source("ST", "a", "station", "A"), Source("G", "c", "inverter", "A")),
            )
        )
        found = operated(compiled, {}, "1", "2", "3", opens=True)
        assert sorted(change.after for change in found.changes) == [
            Answer.GENERATOR,
            Answer.DEENERGIZED,
            Answer.DEENERGIZED,
        ]
        operated(compiled, {"1": "A", "2": "A", "3": "A"}, "1", "2", "3", opens=False)
        operated(compiled, {"1": "A"}, "2", "3", opens=True)

    def test_a_way_round_changes_nothing(self) -> None:
        assert operated(networks.two_feed_section(), {}, "C-208", opens=True).changes == ()
        assert operated(networks.two_feed_section(), {"C-208": "ABC"}, "C-208", opens=False).changes == ()

    def test_what_stands_so_already_changes_nothing(self) -> None:
        assert operated(networks.two_feed_section(), {"C-208": "ABC"}, "C-208", opens=True).changes == ()

    def test_a_jumper_round_a_piece_of_one_section(self) -> None:
        compiled = compile_network(
            Network(
                nodes=(Node("a", "A"), Node("b", "A")),
                transformers=(Transformer("T", "a", "b", "A", "autotransformer"),),
                devices=(Device("J", "a", "b", "A", closed="A"),),
                sources=(Source("ST", "a", "station", "A"),),
            )
        )
        assert operated(compiled, {}, "J", opens=True).changes == ()

    @pytest.mark.parametrize("devices", [("F-7",), ("F-9",), ("tie",), ("F-7", "F-9"), ("F-7", "F-9", "tie")])
    def test_over_a_tie_across_unlike_phases(self, devices: tuple[str, ...]) -> None:
        compiled = networks.unlike_tie()
        operated(compiled, {}, *devices, opens=True)
        operated(compiled, {"F-7": "C", "F-9": "B", "tie": "B"}, *devices, opens=False)


class _Counted(list[Any]):
    looked_at = 0

    def __getitem__(self, place: Any) -> Any:
        _Counted.looked_at += 1
        return super().__getitem__(place)


def test_a_step_looks_at_no_more_than_its_lateral_and_as_much_beyond() -> None:
    """The cost, counted and not clocked: how often the search asks what lies at a section, of thousands."""
    compiled = compile_network(big())
    graph = compiled.graph
    graph.ways, graph.couplings = _Counted(graph.ways), _Counted(graph.couplings)
    before = trace(compiled, normally_open(compiled.network))
    assert (len(compiled.points), compiled.sections) == (248_103, 6_903)
    for device in ("C-F3-2.3", "C-F3-2.5", "F-F3-2.3.4"):
        _Counted.looked_at = 0
        switches = [compiled.switch[device, phase] for phase in compiled.network.device[device].phases]
        changes = step(before, switches, opens=True).changes
        lost = sum(len(change.sections) for change in changes)
        assert 0 < _Counted.looked_at <= 3 * lost + 6
