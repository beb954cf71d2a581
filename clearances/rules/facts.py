"""What the rules look at: plain values, made from rows at the edge."""

from dataclasses import dataclass

from .words import in_order


@dataclass(frozen=True, slots=True)
class Point:
    """An isolation point as reported: which of its `phases` stand open, are made inoperable, and carry this
    clearance's tag.
    """

    device: str
    phases: str
    tag_number: str
    open: str = ""
    inoperable: str = ""
    tagged: str = ""

    @property
    def blocking(self) -> str:
        """The phases that count against a source: open, inoperable and tagged, all three reported.

        >>> Point("C-330", "ABC", "41-1", open="ABC", inoperable="AB", tagged="AB").blocking
        'AB'
        """
        return in_order(set(self.phases) & set(self.open) & set(self.inoperable) & set(self.tagged))


@dataclass(frozen=True, slots=True)
class Path:
    """A way by which a source still reaches the limits, in words from the source to the work."""

    source: str
    phases: str
    words: str


@dataclass(frozen=True, slots=True)
class Tag:
    """A live tag: its number, the clearance it belongs to, and how to reach the holder."""

    number: str
    clearance: int
    holder: str
    phone: str = ""
    promised: str = ""


@dataclass(frozen=True, slots=True)
class Hit:
    """Somebody or something that an operation would harm: `what` in words, and whose it is.

    `other` names what they work under where that is no clearance, such as "field clearance FC-3"; `agreed`:
    the holder of a hot-line hold has been asked about it and says yes.
    """

    what: str
    clearance: int
    holder: str
    phone: str = ""
    other: str = ""
    agreed: bool = False

    @property
    def under(self) -> str:
        return self.other or f"clearance {self.clearance}"

    @property
    def reach(self) -> str:
        return f"{self.holder}, {self.phone}" if self.phone else self.holder


@dataclass(frozen=True, slots=True)
class NextStage:
    """The stage of a job that is to follow: its clearance, and what its protection is still short of, each in
    words.
    """

    clearance: int
    stage: int
    short: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CloseOrder:
    """A step that orders a device closed, given and not yet reported."""

    device: str
    order: int


@dataclass(frozen=True, slots=True)
class StepOut:
    """A step of another order that is given at the same device and not yet reported."""

    order: int
    place: int
    device: str
    given_to: str


@dataclass(frozen=True, slots=True)
class Step:
    """A step of an order as the rules see it; `has`: the phases that its device has on the network now, ""
    where that is not asked."""

    half: str
    place: int
    operation: str
    device: str
    phases: str
    state: str
    tag_number: str = ""
    has: str = ""


@dataclass(frozen=True, slots=True)
class Clearance:
    """A clearance with all that stands under it.

    `now_holds`: whether the holder is qualified today; `closing`: steps given and not yet reported that close
    one of its points; `voltage`: where voltage was found since it was given, no later test there without;
    `earlier_stages`: clearances of earlier stages of the same job that are out; `next_stages`: those that are
    to follow when this is the last of its stage to be released; `changes`: the changes of the network under
    its job of which the board does not know how they were built; `perhaps_built`: those of them that may be
    there already.
    """

    number: int
    state: str
    holder: str
    now_holds: bool
    order_state: str
    points: tuple[Point, ...] = ()
    steps: tuple[Step, ...] = ()
    paths: tuple[Path, ...] = ()
    people: tuple[str, ...] = ()
    grounds: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    unanswered: tuple[str, ...] = ()
    closing: tuple[CloseOrder, ...] = ()
    voltage: tuple[str, ...] = ()
    earlier_stages: tuple[Hit, ...] = ()
    next_stages: tuple[NextStage, ...] = ()
    changes: tuple[str, ...] = ()
    perhaps_built: tuple[str, ...] = ()

    def half(self, name: str) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.half == name)
