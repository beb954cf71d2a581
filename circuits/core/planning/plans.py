"""A plan of isolation as a value: what is opened, checked open and tagged, and closed, and what it costs."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from circuits.core.network import Compiled
from circuits.core.planning.loading import Carried, Ratings
from circuits.core.values import Device, in_words

ASSUMPTIONS = (
    "Volts were not computed: look at the voltage at the far end before a tie is closed.",
    "A plan is a set of devices without an order; whoever writes the order gives it one.",
    "Who is out is counted from how devices stand now: what others operate in those hours is not in it.",
    "Only what is on record is known: a machine or a tie that is not on record is in no plan.",
)


# How much a premises counts, by its care. Nobody's table: common practice, and a utility's to set.
WEIGHTS = {"none": 1.0, "critical": 10.0, "life_support": 10.0}


class CannotPlanError(ValueError):
    """Why these limits can't be planned for, in a sentence."""


@dataclass(frozen=True)
class Question:
    """What is to be planned.

    `limits` are (node, phases) pairs, `open_now` the open phases of devices. Devices `kept` (tags, holds,
    other clearances' points) are not operated, but may be checked open and tagged where they stand open.
    Devices `shared`, which are meant to be another's points too, may be points, opened or checked open, and
    are not operated else; each has the sentence that a plan with it says. No new feed goes over the nodes
    `not_crossed`, each with the reason in words; of the sources `agreed` the holder has agreed how they are
    dealt with. Without `by_phase` a device is a point on all its phases, as the board's orders have it.
    """

    limits: tuple[tuple[str, str], ...]
    open_now: Mapping[str, str]
    kept: Collection[str] = ()
    shared: Mapping[str, str] = field(default_factory=dict)
    not_crossed: Mapping[str, str] = field(default_factory=dict)
    agreed: Collection[str] = ()
    ratings: Ratings = field(default_factory=Ratings)
    weights: Mapping[str, float] = field(default_factory=lambda: WEIGHTS)
    by_phase: bool = True


@dataclass(frozen=True, slots=True)
class Point:
    """A device that is to stand open with a tag: phases to `open`, and phases that stand open by now, to be
    checked open in the field. `sources` are the customers' machines of which it is the disconnect."""

    device: Device
    open: str
    check_open: str
    sources: tuple[str, ...] = ()

    @property
    def phases(self) -> str:
        return "".join(sorted(self.open + self.check_open))

    @property
    def at_its_control(self) -> bool:
        """Whether something else than a hand could close it (29 CFR 1910.269(m)(3)(iii), from memory)."""
        return self.device.recloses or self.device.remote

    @property
    def words(self) -> str:
        """Such as "open C-221 (phases A, B, C) and tag it, also at its point of control; no visible open"."""
        does = [f"open {self.device.id} ({in_words(self.open)}) and tag it"] if self.open else []
        if self.check_open:
            does.append(
                f"check {self.device.id} open ({in_words(self.check_open)}) and tag it, no operation needed"
            )
        said = "; ".join(does)
        if self.sources:
            said += f"; it is the disconnect of {', '.join(self.sources)}"
        if self.at_its_control:
            said += "; tag it at its point of control too, and make what closes it from there inoperative"
        return said if self.device.visible_break else f"{said}; no visible open"


@dataclass(frozen=True, slots=True)
class Operation:
    """A device that is moved without being a point: phases that are closed, or opened."""

    device: Device
    phases: str
    closes: bool

    @property
    def words(self) -> str:
        """Such as "close N-7 (phases A, B, C)"."""
        return f"{'close' if self.closes else 'open'} {self.device.id} ({in_words(self.phases)})"


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to part limits from every source.

    `out` are the premises that lose their supply, `partly` those that lose a part of it or keep a voltage
    that is not known; both are energized now. `out_without_ties` counts both as it would be if nothing were
    closed. `shared` says which points are another's too. `used` says what the lines and devices that carry
    more than now carry, the fullest first. `capacitors` lie with the limits. `gap` is how much cheaper, as a
    part of the price, a plan might still be; `proven` that none is, of those that leave out a point of each
    of the `before` plans that were found first.
    """

    points: tuple[Point, ...]
    shared: tuple[str, ...]
    moved: tuple[Operation, ...]
    out: tuple[str, ...]
    partly: tuple[str, ...]
    out_without_ties: int
    life_support: tuple[str, ...]
    critical: tuple[str, ...]
    used: tuple[Carried, ...]
    capacitors: tuple[str, ...]
    price: float
    gap: float
    proven: bool
    before: int = 0

    @property
    def customers(self) -> int:
        return len(self.out) + len(self.partly)

    @property
    def operations(self) -> int:
        """Devices that somebody has to move; a check operates nothing."""
        return sum(bool(point.open) for point in self.points) + len(self.moved)

    @property
    def without_visible_open(self) -> tuple[str, ...]:
        return tuple(point.device.id for point in self.points if not point.device.visible_break)

    @property
    def closes(self) -> tuple[Operation, ...]:
        return tuple(one for one in self.moved if one.closes)

    def customer_minutes(self, minutes: float) -> float:
        """Over a window: all of its customers for all of it."""
        return self.customers * minutes

    @property
    def standing(self) -> str:
        """How good it is among all plans, in words."""
        if self.proven and not self.before:
            return "no plan has fewer customers out, weighted, within the ties looked at"
        if self.proven:
            return "of the plans without a point of each one before, none has fewer customers out, weighted"
        fewer = self.price * self.gap
        return f"the time ran out: another plan may have up to {fewer:.1f} fewer customers out, weighted"


@dataclass(frozen=True, slots=True)
class Plans:
    """The best few plans, the cheapest first. `told` are sentences for whoever chooses; `thrown_away` says of
    plans that did not pass the proof why. `undecided` are customers' machines that no device parts."""

    plans: tuple[Plan, ...]
    told: tuple[str, ...]
    thrown_away: tuple[str, ...]
    undecided: tuple[str, ...]


def sentences(compiled: Compiled, plan: Plan, minutes: float | None = None) -> tuple[str, ...]:
    """A plan as it is read out: what is done, who is out, what it rests on."""
    does = [one.words for one in plan.points] + [one.words for one in plan.moved]
    said = [f"{one[0].upper()}{one[1:]}." for one in does]
    said += plan.shared
    said.append(_customers(plan, minutes))
    if plan.closes and plan.out_without_ties > plan.customers:
        said.append(f"Without closing a tie {plan.out_without_ties} customers would be out.")
    for name in plan.capacitors:
        pole = compiled.network.pole(_capacitor_node(compiled)[name])
        said.append(
            f"Capacitor {name}{f' at {pole}' if pole else ''} lies with the limits: after it is disconnected "
            "wait at least 5 minutes, then short and ground it (29 CFR 1910.269(w)(1), from memory)."
        )
    said += [f"{one.words}, by summed loads." for one in plan.used]
    said.append(f"{plan.standing[0].upper()}{plan.standing[1:]}.")
    return tuple(said)


def _customers(plan: Plan, minutes: float | None) -> str:
    said = f"{len(plan.out)} customers out"
    if plan.partly:
        said += f", {len(plan.partly)} more on part of their phases or on a voltage that is not known"
    if minutes is not None:
        said += f"; {plan.customer_minutes(minutes):.0f} customer-minutes over the window"
    return f"{said}."


def _capacitor_node(compiled: Compiled) -> Mapping[str, str]:
    return {one.id: one.node for one in compiled.network.capacitors}
