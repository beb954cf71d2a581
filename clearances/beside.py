"""All that stands on the board and is no clearance, read once, in the words of pages and drawings.

Each kind has its own words, on a drawing, in a list and on paper, so that none is taken for a clearance or
its tag.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from . import protections
from .models import DoNotOperate, FieldClearance, HotLineHold


@dataclass(frozen=True, slots=True)
class Meets:
    """Somebody whom the people of a clearance have to know of: what they do there, after the name."""

    name: str
    phone: str
    words: str

    @property
    def sentence(self) -> str:
        return f"{self.name}, {self.phone}, {self.words}."


@dataclass(frozen=True, slots=True)
class Beside:
    asked: list[HotLineHold]
    holds: list[HotLineHold]
    do_not_operates: list[DoNotOperate]
    field_clearances: list[FieldClearance]

    @classmethod
    def read(cls) -> "Beside":
        """Three queries, and one for what was said of the holds if there are any."""
        holds = list(protections.asked_or_out())
        return cls(
            [hold for hold in holds if hold.state == HotLineHold.State.ASKED],
            [hold for hold in holds if hold.state != HotLineHold.State.ASKED],
            list(protections.do_not_operates()),
            list(protections.field_clearances()),
        )

    def notes(self) -> dict[str, list[str]]:
        """Device id -> what stands there, as short as on a drawing."""
        found: dict[str, list[str]] = defaultdict(list)
        for hold in self.holds:
            found[hold.device_id].append(f"RECLOSE OFF {hold.number}")
        for kept in self.do_not_operates:
            found[kept.device_id].append(f"do not operate {kept.number}")
        for field in self.field_clearances:
            found[field.device_id].append(f"field clearance, {field.holder}, no operator order")
        return dict(found)

    def reclosing_stays_off(self, device_id: str) -> str:
        """What belongs to a close of this device while a hold is out there; "" without one."""
        here = [f"{row.number}, {row.holder}" for row in self.holds if row.device_id == device_id]
        return f"leave reclosing OFF: hot-line hold {'; '.join(here)}" if here else ""

    def at(self, device_id: str) -> list[str]:
        """What stands at a device, in sentences with whom to call."""
        return [
            *(
                f"Hot-line hold {row.number}, RECLOSE OFF: {row.holder}, {row.holder.phone}, works energized "
                f"beyond it at {row.place_words}."
                for row in self.holds
                if row.device_id == device_id
            ),
            *(
                f"Do-not-operate {row.number}, no clearance: kept open for {row.name} of {row.employer}, "
                f"{row.phone}."
                for row in self.do_not_operates
                if row.device_id == device_id
            ),
            *(
                f"Field clearance {row.number}, {row.holder}, {row.holder.phone}, no operator order: "
                f"{row.work}."
                for row in self.field_clearances
                if row.device_id == device_id
            ),
        ]

    def meeting(self, points: Collection[str], nodes: Collection[str]) -> Iterator[Meets]:
        """Where these meet a clearance: at its points, or inside its limits."""
        for hold in self.holds:
            if hold.device_id in points:
                words = (
                    f"works energized beyond {hold.device_id}, one of its points, under hot-line hold "
                    f"{hold.number}: called before it is opened and before it is closed. The hold tag stays "
                    "beside the clearance's, and reclosing stays off"
                )
                yield Meets(str(hold.holder), hold.holder.phone, words)
            elif set(hold.nodes) & set(nodes):
                words = f"works energized inside its limits under hot-line hold {hold.number}"
                yield Meets(str(hold.holder), hold.holder.phone, words)
        for kept in self.do_not_operates:
            if kept.device_id in points:
                words = (
                    f"has {kept.device_id}, one of its points, kept open by do-not-operate {kept.number}, "
                    "and gives it back before it is closed"
                )
                yield Meets(f"{kept.name} of {kept.employer}", kept.phone, words)
        for field in self.field_clearances:
            if field.device_id in points or set(field.nodes) & set(nodes):
                words = (
                    f"works beyond {field.device_id} under field clearance {field.number}, no operator order"
                )
                yield Meets(str(field.holder), field.holder.phone, words)
