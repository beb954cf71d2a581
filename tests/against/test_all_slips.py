"""The slip search against every slip worked out the long way: one state after another on the raw graph."""

from collections.abc import Iterator
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from circuits.core.joins import never_joined
from circuits.core.network import Network, compile_network
from circuits.core.rehearsing.beside import FED, LOST
from circuits.core.rehearsing.lookalikes import taken_for
from circuits.core.rehearsing.rehearsal import (
    CHECK_OPEN,
    CLOSE,
    OPEN,
    REMOVE_TAG,
    Crew,
    Hold,
    Move,
    Order,
    Part,
    Untouched,
)
from circuits.core.rehearsing.slips import slips
from circuits.core.trace import Answer, trace
from tests.core.made_networks import parts, states
from tests.core.raw_graph import RawGraph

State = dict[str, str]
Moves = list[list[Move]]


@st.composite
def orders(draw: st.DrawFn) -> Order:
    """Two halves on one network, somebody at work between them, and another crew all the time."""
    network, opened = draw(states().filter(lambda case: bool(case[0].devices)))
    compiled = compile_network(network)
    kinds = {0: (OPEN, CHECK_OPEN), 1: (CLOSE, REMOVE_TAG)}
    halves = []
    number = 0
    for half in (0, 1):
        moves = []
        for _ in range(draw(st.integers(0, 2))):
            number += 1
            device = draw(st.sampled_from(network.devices))
            phases = draw(st.sampled_from(parts(device.phases)))
            moves.append(Move(str(number), device.id, phases, draw(st.sampled_from(kinds[half]))))
        halves.append(Part(compiled, tuple(moves)))
    points = [(node.id, phase) for node in network.nodes for phase in node.phases]
    work = len(halves[0].moves)
    some = st.frozensets(st.sampled_from(points), min_size=1, max_size=4)
    crews = Crew("the crew", draw(some), work, work + 1), Crew("the others", draw(some))
    any_device = st.sampled_from([device.id for device in network.devices])
    beside = Hold("the hold", draw(any_device), draw(some)), Untouched(draw(any_device), "it is given back")
    return Order(tuple(halves), opened, crews, beside)


def states_of(order: Order, moves: Moves) -> list[State]:
    """How the devices stand in each frame, from the definition."""
    found: list[State] = []
    stand = {
        (device.id, phase): phase not in order.open_phases.get(device.id, "")
        for device in order.parts[0].compiled.network.devices
        for phase in device.phases
    }
    for slot in moves:
        for move in slot:
            for phase in move.phases:
                if move.operation in (OPEN, CLOSE):
                    stand[move.device, phase] = move.operation == CLOSE
        opened: State = {}
        for (device, phase), closed in stand.items():
            opened[device] = opened.get(device, "") + ("" if closed else phase)
        found.append(opened)
    return found


def every_slip(order: Order) -> Iterator[tuple[tuple[str, int], Moves]]:
    """Each slip as its kind and the slot of its first step, with the moves as they then are."""
    right: Moves = [list(slot) for slot in order.slots]
    stand = states_of(order, right)
    numbered = [(at, move) for at, slot in enumerate(right) for move in slot]
    gate = len(order.parts[0].moves)
    compiled = order.parts[0].compiled

    def instead(at: int, *moves: Move) -> Moves:
        changed = [list(slot) for slot in right]
        changed[at] = list(moves)
        return changed

    for at, move in numbered:
        one = at
        if move.operation in (OPEN, CLOSE):
            yield ("left out", one), instead(at)
            if len(move.phases) > 1:
                for phase in move.phases:
                    yield ("stuck", one), instead(at, replace(move, phases=move.phases.replace(phase, "")))
            for device, phases in taken_for(move, compiled, stand[at - 1]):
                yield ("look-alike", one), instead(at, replace(move, device=device, phases=phases))
        if move.operation == CLOSE and at > gate + 1:
            yield ("too early", one), instead(gate + 1, move)
        if move.operation == CHECK_OPEN:
            yield ("other way", one), instead(at, replace(move, operation=CLOSE))
            opens = replace(move, operation=OPEN)
            for device, phases in taken_for(opens, compiled, stand[at - 1]):
                taken = replace(opens, device=device, phases=phases)
                yield ("look-alike", one), instead(at, taken, replace(move, operation=CLOSE))
    for at, move in numbered:
        for later, other in numbered:
            moving = {move.operation, other.operation} & {OPEN, CLOSE}
            if at < later and (at <= gate) == (later <= gate) and moving:
                changed = instead(at, other)
                changed[later] = [move]
                yield ("swapped", at), changed
    for device in {move.device for _, move in numbered}:
        has = compiled.network.device[device].phases
        left = [p for p in has if p not in order.open_phases.get(device, "") and p in stand[-1][device]]
        if left:
            changed = instead(0)
            changed[-1] = [*right[-1], Move("", device, "".join(left), CLOSE)]
            yield ("old half", len(right) - 1), changed


def comes_to(order: Order, moves: Moves) -> tuple[set[tuple[str, Answer]], set[str], set[str]]:
    network: Network = order.parts[0].compiled.network
    hits: dict[str, Answer] = {}
    joined: set[str] = set()
    out: set[str] = set()
    ends = {len(order.parts[0].moves), len(moves) - 1}
    worst_first = list(Answer)
    both = zip(states_of(order, [list(slot) for slot in order.slots]), states_of(order, moves), strict=True)
    for frame, (ordered, slipped) in enumerate(both):
        before, after = RawGraph(network, ordered), RawGraph(network, slipped)
        for crew in order.crews:
            if crew.first <= frame <= (len(moves) if crew.last is None else crew.last):
                for at in crew.nodes:
                    was, now = before.answers[at][0], after.answers[at][0]
                    if worst_first.index(now) < worst_first.index(was):
                        hits[crew.name] = min(hits.get(crew.name, now), now, key=worst_first.index)
        if frame in ends:
            for one in network.premises:
                whole = after.has(one).answer is Answer.ENERGIZED
                if not whole and before.has(one).answer is Answer.ENERGIZED:
                    out.add(one.id)
        if any(set(phases) - set(slipped[device]) for device, phases in ordered.items()):
            compiled = order.parts[0].compiled
            joined |= set(never_joined(trace(compiled, ordered), trace(compiled, slipped)))
    return set(hits.items()), joined, out


def done_beside(order: Order, moves: Moves) -> dict[tuple[str, str, str], int]:
    """What is done to the hold and at the device that nobody operates, and in which frame first."""
    network: Network = order.parts[0].compiled.network
    worst_first = list(Answer)
    hold, untouched = order.beside
    assert isinstance(hold, Hold)
    found: dict[tuple[str, str, str], int] = {}
    graphs = [RawGraph(network, opened) for opened in states_of(order, moves)]
    for frame, slot in enumerate(moves):
        told = [("untouched", one.operation, one.device) for one in slot if one.device == untouched.device]
        at_its_device = [
            ("hold", one.operation, one.device)
            for one in slot
            if one.device == hold.device and one.operation in (OPEN, CLOSE)
        ]
        told += at_its_device
        if frame and not at_its_device:
            volts = [
                [worst_first.index(graph.answers[at][0]) for at in sorted(hold.nodes)]
                for graph in graphs[frame - 1 : frame + 1]
            ]
            pairs = list(zip(*volts, strict=True))
            opens, closes = (
                ", ".join(one.device for one in slot if one.operation == operation)
                for operation in (OPEN, CLOSE)
            )
            if any(now > was for was, now in pairs):
                told.append(("hold", LOST, opens))
            if any(now < was for was, now in pairs):
                told.append(("hold", FED, closes))
        for one in told:
            found.setdefault(one, frame)
    return found


@settings(max_examples=max(1, settings().max_examples // 2))
@given(orders())
def test_every_slip_that_comes_to_something_is_found_and_no_other(order: Order) -> None:
    expected = []
    ordered = done_beside(order, [list(slot) for slot in order.slots])
    for key, moves in every_slip(order):
        hits, joined, out = comes_to(order, moves)
        beside = [
            one
            for one, at in done_beside(order, moves).items()
            if one not in ordered or (one[0] == "hold" and at < ordered[one])
        ]
        if hits or beside or joined or out:
            expected.append((key, sorted(hits), sorted(beside), sorted(joined), sorted(out)))
    found = slips(order)
    assert sorted(expected) == sorted(
        (
            (slip.kind, slip.at),
            sorted((hit.crew, hit.answer) for hit in slip.hits),
            sorted(
                ("hold" if isinstance(one.of, Hold) else "untouched", one.does, one.by)
                for one in slip.concerns
            ),
            sorted(slip.joined),
            sorted(slip.out),
        )
        for slip in found
    )
    assert all(slip.sentence.startswith(slip.what) for slip in found)
    assert list(found) == sorted(found, key=lambda slip: slip.rank)
