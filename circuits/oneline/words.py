"""What a drawing says in words: over a strip, under a device, and in sentences for those who don't see it."""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from circuits.core.network import Compiled
from circuits.core.oneline import Drop, Span, Stop
from circuits.core.trace import Answer, Trace
from circuits.oneline.strips import Place

NARROW = 12  # letters of a line of notes at a device, so that it does not reach the next pole


class Words:
    """The words for one state of a network. `tags` has the numbers of the tags by device, `notes` what else
    stands there."""

    def __init__(
        self,
        compiled: Compiled,
        state: Trace,
        tags: Mapping[str, Sequence[str]],
        notes: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self.compiled = compiled
        self.network = compiled.network
        self.state = state
        self.tags = tags
        self.notes = notes or {}
        self.customers = self.network.customers
        self.life_support = self.network.life_support

    def pole(self, node: str) -> str:
        """The number of the pole, or the name of the station."""
        structure = self.network.structure.get(self.network.node[node].structure)
        return (structure.label or structure.id) if structure else node

    def place(self, node: str) -> str:
        structure = self.network.structure.get(self.network.node[node].structure)
        street = structure.street if structure and structure.street not in self.pole(node) else ""
        return f"{self.pole(node)}{f', {street}' if street else ''}"

    def toward(self, node: str) -> str:
        """Which side of a device a node is, by what its lines or transformers lead to: "toward P-220"."""
        far = [
            self.pole(line.to_node if line.from_node == node else line.from_node)
            for line in self.network.lines
            if node in (line.from_node, line.to_node)
        ]
        far += [
            transformer.id
            for transformer in self.network.transformers
            if node in (transformer.primary_node, transformer.secondary_node)
        ]
        far += [source.id for source in self.network.sources if source.node == node]
        return f"toward {' and '.join(dict.fromkeys(far))}" if far else self.place(node)

    def answers(self, node: str, phases: str = "") -> tuple[tuple[str, Answer], ...]:
        return tuple(
            (phase, self.state.answer(node, phase)) for phase in phases or self.network.node[node].phases
        )

    @staticmethod
    def said(answers: tuple[tuple[str, Answer], ...]) -> str:
        """Such as "A: possibly backfed, voltage not known; B, C: energized"."""
        phases: dict[Answer, list[str]] = {}
        for phase, answer in answers:
            phases.setdefault(answer, []).append(phase)
        return "; ".join(f"{', '.join(found)}: {answer}" for answer, found in phases.items())

    def runs(self, places: Sequence[Place]) -> Iterator[tuple[bool, str]]:
        """The states along some places: whether all is energized there, and the words."""
        for answers, run in groupby(places, key=lambda place: self.answers(place.stop.node)):
            poles = list(dict.fromkeys(self.pole(place.stop.node) for place in run))
            where = poles[0] if len(poles) == 1 else f"{poles[0]} to {poles[-1]}"
            yield all(answer is Answer.ENERGIZED for _, answer in answers), f"{where}: {self.said(answers)}"

    def open_phases(self, device: str) -> str:
        return "".join(
            phase
            for phase in self.network.device[device].phases
            if not self.state.closed[self.compiled.switch[device, phase]]
        )

    def position(self, device: str) -> str:
        """Such as "A B open"; "" where all phases stand closed."""
        opened = self.open_phases(device)
        word = "lifted" if self.network.device[device].kind == "jumper" else "open"
        return f"{' '.join(opened)} {word}" if opened else ""

    def under_a_device(self, device: str) -> list[str]:
        """The lines of text at a device, after its id."""
        position = self.position(device)
        tags = [f"tag {tag}" for tag in self.tags.get(device, ())]
        notes = [
            line
            for note in self.notes.get(device, ())
            for line in textwrap.wrap(note, NARROW, break_on_hyphens=False)
        ]
        return [*([position] if position else []), *tags, *notes]

    def under_a_drop(self, drop: Drop) -> list[str]:
        """The lines of text at a transformer or capacitor."""
        if drop.kind == "capacitor":
            return [drop.id, "capacitor"]
        lines = [
            drop.id,
            f"{self.customers[drop.id]} on {' '.join(self.network.transformer[drop.id].phases)}",
        ]
        if count := self.life_support[drop.id]:
            lines.append("life-support" if count == 1 else f"{count} life-supp.")
        return lines

    def of_a_device(self, device: str) -> str:
        node = self.network.device[device].from_node
        opened = self.open_phases(device)
        closed = "".join(p for p in self.network.device[device].phases if p not in opened)
        parts = [f"{', '.join(closed)} closed"] * bool(closed) + [f"{', '.join(opened)} open"] * bool(opened)
        if tags := ", ".join(self.tags.get(device, ())):
            parts.append(f"device tags {tags}")
        parts += self.notes.get(device, ())
        return f"{device} at {self.place(node)}: {'; '.join(parts)}."

    def of_a_closing(self, node: str, span: Span, beyond: str) -> str:
        stands = f", {self.position(span.id) or 'closed'}" if span.kind == "device" else ""
        return f"{self.pole(node)} is joined to {self.pole(beyond)} by {span.kind} {span.id}{stands}."

    def of_a_stop(self, stop: Stop) -> Iterator[str]:
        for drop in stop.drops:
            if drop.device:
                yield self.of_a_device(drop.device)
            if drop.kind == "transformer":
                yield self.of_a_transformer(drop.id, stop.node)

    def of_a_transformer(self, transformer: str, node: str) -> str:
        count, cared_for = self.customers[transformer], self.life_support[transformer]
        who = f"{count} customer{'s' * (count != 1)}"
        if cared_for:
            who += f", {cared_for} with life-support"
        supply = self.said(self.answers(self.network.transformer[transformer].secondary_node))
        return f"{transformer} at {self.place(node)}: {who}; {supply}."
