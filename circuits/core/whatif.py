"""What one operation of a device would do, as a value and in words: who would be out, what be joined."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

import numpy as np

from circuits.core.answers import OUT, Answer
from circuits.core.connected import kva_at
from circuits.core.network import Compiled
from circuits.core.parallels import Parallels, listed, parallels
from circuits.core.step import Step, step
from circuits.core.trace import Trace, trace
from circuits.core.values import Device, in_words, letters

OPERATIONS = ("open", "close")


@dataclass(frozen=True, slots=True)
class Run:
    """The same phases of some nodes that would go from one answer to another for the same reasons: `now` and
    `then` say why, in words. `places` are the poles and other structures of the nodes, primary first."""

    phases: str
    before: Answer
    after: Answer
    now: str
    then: str
    nodes: tuple[str, ...]
    places: tuple[str, ...]

    def is_within(self, other: "Run") -> bool:
        """Whether another says the same of more phases at these places, as on the poles of a run of line of
        the taps to transformers."""
        return (
            (self.now, self.then) == (other.now, other.then)
            and set(self.phases) < set(other.phases)
            and set(self.places) <= set(other.places)
        )

    @property
    def words(self) -> str:
        more = len(self.places) - 2
        where = listed(self.places if more < 2 else [*self.places[:2], f"{more} more places"])
        return f"{in_words(self.phases)}{where and f' at {where}'}: now {self.now}; then {self.then}"


@dataclass(frozen=True)
class WhatIf:
    """What would change. Counts go by answer; premises are ids, each in one of `newly_out`, `newly_backfed`
    and `back` at most.

    `moved` are the phases that would move: those of `phases` that do not stand so already. `kva` is the size
    of the transformers that would lose their supply by it, or gain it, phase by phase: the most that a device
    would break or pick up, not what flows. `sources_lost` are stations that would no longer feed something
    that they feed. `machines` are customers' that may run on what would be energized.
    """

    device: Device
    phases: str
    operation: str
    moved: str
    node_phases_before: Mapping[Answer, int]
    node_phases_after: Mapping[Answer, int]
    premises_before: Mapping[Answer, int]
    premises_after: Mapping[Answer, int]
    newly_out: tuple[str, ...]
    newly_backfed: tuple[str, ...]
    back: tuple[str, ...]
    one_feed_lost: tuple[str, ...]
    kva: Mapping[str, float]
    sources_lost: tuple[str, ...]
    machines: tuple[str, ...]
    made: Parallels
    undone: Parallels
    runs: tuple[Run, ...]
    transformers: Mapping[str, str]

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """All of it in words, what joins first."""
        return tuple(f"{said[0].upper()}{said[1:]}." for said in self._said())

    def _said(self) -> Iterator[str]:
        opens = self.operation == "open"
        name = self.device.id
        if already := letters(set(self.phases) - set(self.moved)):
            stands = f"{'stand' if len(already) > 1 else 'stands'} {'open' if opens else 'closed'} already"
            yield f"{in_words(already)} of {name} {stands}{'' if self.moved else ': nothing would change'}"
        if self.device.operation == "gang" and set(self.moved) != set(self.device.phases) and self.moved:
            yield f"all phases of {name} move with one handle; this is about {in_words(self.moved)} alone"
        yield from self.made.sentences
        if self.machines:
            yield f"if running, {listed(self.machines)} would be joined to what is energized"
        yield from self._about_premises()
        yield from (run.words for run in self.runs if not any(run.is_within(other) for other in self.runs))
        if self.kva:
            load = ", ".join(f"{kva:g} kVA on {in_words(phase)}" for phase, kva in self.kva.items())
            yield f"it would {'break' if opens else 'pick up'} the load of transformers of {load}"
        yield from (f"this would end: {said}" for said in self.undone.sentences)
        if self.moved and not (self.runs or self.made.sentences or self.undone.sentences):
            yield "no place would have another answer"

    def _about_premises(self) -> Iterator[str]:
        for premises, state in (
            (self.newly_out, "out"),
            (self.newly_backfed, "on part of their phases, or on a voltage that is not known"),
            (self.back, "energized that are not now"),
        ):
            if premises:
                count = Counter(self.transformers[one] for one in premises)
                where = ", ".join(f"{number} of {transformer}" for transformer, number in count.items())
                customers = "customer" if len(premises) == 1 else "customers"
                yield f"{len(premises)} {customers} would be {state}: {where}"
        for one in self.one_feed_lost:
            yield f"premises {one} would have one of its two feeds left, if its transfer is made"


def what_if(
    compiled: Compiled, open_phases: Mapping[str, str], device: str, phases: str, operation: str
) -> WhatIf:
    """What would change if these phases of a device were opened, or closed, in a state of the devices.

    It asks nothing of tags, people or ground sets and allows nothing. Raises ValueError, with a sentence, for
    a device or phase that is not there and for another operation than "open" and "close". Cost: two traces
    and their parallels; where only the changed answers are wanted, `circuits.core.step` is far cheaper.

    >>> from circuits.core.network import Device, Network, Node, Source, compile_network
    >>> compiled = compile_network(Network(
    ...     nodes=(Node("main", "A"), Node("tap", "A")),
    ...     devices=(Device("C-1", "main", "tap", "A", closed="A"),),
    ...     sources=(Source("station", "main", "station", "A"),)))
    >>> what_if(compiled, {}, "C-1", "A", "open").sentences
    ('Phase A: now energized from station; then de-energized by report: C-1 open.',)
    """
    if operation not in OPERATIONS:
        raise ValueError(f"{operation or 'nothing'} is no operation: write open or close")
    if not phases:
        raise ValueError(f"no phase of {device} is named")
    opens = operation == "open"
    switches = sorted(set(compiled.numbers([(device, phases)])))
    before = trace(compiled, open_phases)
    stands = set(open_phases.get(device, ""))
    moved = set(phases) - stands if opens else set(phases) & stands
    after = trace(compiled, {**open_phases, device: letters(stands | moved if opens else stands - moved)})
    comparison = _Comparison(before, after, step(before, switches, opens=opens), opens=opens)
    return comparison.value(compiled.network.device[device], letters(set(phases)), letters(moved))


class _Comparison:
    def __init__(self, before: Trace, after: Trace, found: Step, *, opens: bool) -> None:
        self.before = before
        self.after = after
        self.step = found
        self.opens = opens
        self.compiled = before.compiled
        self.graph = self.compiled.graph
        # The sections that would no longer be energized, or would now be.
        self.turned = {
            section
            for change in found.changes
            if Answer.ENERGIZED in (change.before, change.after)
            for section in change.sections
        }

    def value(self, device: Device, phases: str, moved: str) -> WhatIf:
        joins, joined = parallels(self.after), parallels(self.before)
        changed = [
            (self.graph.services[number], was, now)
            for number, (was, now) in sorted(self.step.services.items())
        ]

        def premises(*, after: Collection[Answer], not_before: Collection[Answer]) -> tuple[str, ...]:
            return tuple(
                chain.from_iterable(
                    service.premises
                    for service, was, now in changed
                    if now in after and was not in not_before
                )
            )

        return WhatIf(
            device=device,
            phases=phases,
            operation="open" if self.opens else "close",
            moved=moved,
            node_phases_before=_node_phases(self.before),
            node_phases_after=_node_phases(self.after),
            premises_before=_counted(self.before),
            premises_after=_counted(self.after),
            newly_out=premises(after=OUT, not_before=OUT),
            newly_backfed=premises(after=[Answer.BACKFED], not_before=[]),
            back=premises(after=[Answer.ENERGIZED], not_before=[]),
            transformers={
                name: service.served[0][0].id for service, _, _ in changed for name in service.premises
            },
            one_feed_lost=tuple(self._one_feed_lost()) if self.opens else (),
            kva=self._kva(),
            sources_lost=self._sources_lost(),
            machines=() if self.opens else tuple(self._machines()),
            made=joins.beyond(joined),
            undone=joined.beyond(joins),
            runs=tuple(self._runs()),
        )

    def _one_feed_lost(self) -> Iterator[str]:
        """Premises that would stay energized by one feed and lose the other, or a phase of it."""
        for number in sorted(self.step.touched):
            service = self.graph.services[number]
            one = service.premises[0]
            states = self.before.supply_of(one), self.after.supply_of(one)
            if len(service.feeds) > 1 and all(state and state.answer is Answer.ENERGIZED for state in states):
                yield from service.premises

    def _kva(self) -> dict[str, float]:
        return kva_at(self.compiled, self.turned)

    def _section(self, node: str, phase: str) -> int:
        return int(self.compiled.section[self.compiled.index[node, phase]])

    def _sources_lost(self) -> tuple[str, ...]:
        pairs = set(zip(self.before.islands, self.after.islands, strict=True))
        lost = (
            self.before.stations[was] - self.after.stations[now]
            for was, now in pairs
            if self.before.answers[was] is Answer.ENERGIZED
        )
        return tuple(sorted(frozenset[str]().union(*lost)))

    def _machines(self) -> Iterator[str]:
        for source in self.compiled.network.sources:
            joined = any(self._section(source.node, phase) in self.turned for phase in source.phases)
            if joined and not (source.is_station or source.interlocked):
                yield source.id

    def _runs(self) -> Iterator[Run]:
        changes = self.step.changes
        change_of = np.full(self.compiled.sections, -1)
        for number, change in enumerate(changes):
            change_of[list(change.sections)] = number
        change_at = change_of[self.compiled.section]
        reasons: dict[int, tuple[Answer, Answer, str, str]] = {}
        phases_of: dict[tuple[str, tuple[Answer, Answer, str, str]], str] = defaultdict(str)
        for place in np.flatnonzero(change_at >= 0).tolist():
            number, (node, phase) = int(change_at[place]), self.compiled.points[place]
            if number not in reasons:
                why = self.before.why(node, phase), self.after.why(node, phase)
                reasons[number] = changes[number].before, changes[number].after, *why
            phases_of[node, reasons[number]] += phase
        alike: dict[tuple[str, Answer, Answer, str, str], list[str]] = defaultdict(list)
        for (node, reason), phases in phases_of.items():
            alike[phases, *reason].append(node)
        network = self.compiled.network
        for key, nodes in alike.items():
            primary_first = sorted(nodes, key=lambda node: -network.node[node].nominal_kv)
            places = dict.fromkeys(filter(None, map(network.pole, primary_first)))
            yield Run(*key, tuple(nodes), tuple(places))


def _counted(state: Trace) -> dict[Answer, int]:
    count = Counter(one.answer for one in state.not_energized().values())
    count[Answer.ENERGIZED] = len(state.compiled.network.premises) - count.total()
    return {answer: count[answer] for answer in Answer}


def _node_phases(state: Trace) -> dict[Answer, int]:
    return dict(zip(Answer, np.bincount(state.codes, minlength=len(Answer)).tolist(), strict=True))
