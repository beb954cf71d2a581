"""The network as one reading of one page sees it: each thing is read once, however many parts ask for it."""

import datetime
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from typing import Any

from django.urls import reverse
from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.network import Compiled
from circuits.core.trace import Answer, Trace, trace
from circuits.core.values import normally_open
from circuits.models import PositionReport

from .. import facts
from ..acts import allowed, link
from ..beside import Beside
from ..models import Clearance, IsolationPoint, Person, Tag
from ..rules import facts as values
from ..rules.words import in_order
from . import words

Row = dict[str, Any]
Details = dict[tuple[str, str], PositionReport | None]


def need(level: str, word: str, text: str, act: Row | None, note: str = "", again: int = 0) -> Row:
    """What waits for a person, for components/need.html; `again`: worth a new look in so many seconds."""
    return {"level": level, "word": word, "text": text, "act": act, "note": note, "again": again}


def to_page(label: str, name: str, *args: object) -> Row:
    """A press that leads to a page and is no act, for components/act_link.html."""
    return {"label": label, "url": reverse(name, args=args), "danger": False, "elsewhere": True}


class Picture:
    """What `person` is shown at `now`; `back` is the address of the page that asks."""

    def __init__(self, person: Person, back: str) -> None:
        self.person = person
        self.back = back
        self.now: datetime.datetime = timezone.now()

    @cached_property
    def compiled(self) -> Compiled:
        return snapshot.compiled()

    @cached_property
    def open_now(self) -> dict[str, str]:
        return positions.open_phases()

    @cached_property
    def trace(self) -> Trace:
        return trace(self.compiled, self.open_now)

    @cached_property
    def normal(self) -> dict[str, str]:
        return normally_open(self.compiled.network)

    @cached_property
    def tags(self) -> dict[str, list[Tag]]:
        """Every live tag by device."""
        found: dict[str, list[Tag]] = defaultdict(list)
        for tag in facts.live_tags().select_related("clearance__holder").order_by("hung_at", "pk"):
            found[tag.device_id].append(tag)
        return found

    @cached_property
    def beside(self) -> Beside:
        """What stands and is no clearance."""
        return Beside.read()

    def where(self, device_id: str) -> str:
        return words.where(self.compiled, device_id)

    def position(self, device_id: str, phases: str, details: Details) -> str:
        reports = [details.get((device_id, phase)) for phase in phases]
        how = [report.made_inoperable for report in reports if report and report.position == "open"]
        return words.position(phases, self.open_now.get(device_id, ""), how)

    def act(self, name: str, label: str = "", **params: object) -> Row | None:
        """A link to an act, None for somebody who may not do it."""
        return (
            link(name, label, danger=False, **params, back=self.back) if allowed(self.person, name) else None
        )

    def acts(self, *wanted: Row | None) -> list[Row]:
        return [one for one in wanted if one]

    def groups(self, wanted: Mapping[str, Iterable[Row | None]]) -> list[Row]:
        """Acts under headings, for components/act_groups.html; a heading without an act is left out."""
        rows = {words: self.acts(*acts) for words, acts in wanted.items()}
        return [{"words": words, "acts": acts} for words, acts in rows.items() if acts]

    def look_at(self, clearance: int) -> Row:
        """A link to the clearance's page on the desk."""
        return to_page(f"Look at {clearance}", "clearance", clearance)

    def points(self, clearance: Clearance, details: Details) -> tuple[values.Point, ...]:
        """The clearance's points as reported. Its `points` should be prefetched."""
        own = [tag for tags in self.tags.values() for tag in tags if tag.clearance_id == clearance.pk]
        return facts.as_points(clearance.points.all(), details, own)

    def paths(self, clearance: Clearance, points: Collection[values.Point]) -> list[str]:
        """The ways by which a source reaches the limits past these points, in words."""
        blocked = {point.device: point.blocking for point in points if point.blocking}
        ways = facts.live_paths(self.compiled, clearance, blocked)
        return [way.words for way in facts.told(self.compiled, ways)]

    def shared(self, clearance: int, device_id: str) -> str:
        """Whose else's tags hang at a device, and what else stands there; "" when nothing does."""
        others = [tag for tag in self.tags.get(device_id, ()) if tag.clearance_id != clearance]
        names = ", ".join(
            f"{tag.number} ({tag.clearance.holder}, {tag.clearance.holder.phone})" for tag in others
        )
        also = f"{device_id} also carries tag {names}" if names else ""
        beside = " ".join(self.beside.at(device_id))
        return f"{also}. {beside}" if also and beside else also or beside

    def point_row(
        self, clearance: Clearance, row: IsolationPoint, point: values.Point, details: Details
    ) -> Row:
        """An isolation point for components/point.html."""
        last = words.latest(details.get((row.device_id, phase)) for phase in row.phases)
        found = "not reported"
        if set(point.tagged) - set(point.open) or (last and last.irregular):
            found = "found otherwise"
        return {
            "device": row.device_id,
            "where": self.where(row.device_id),
            "position": self.position(row.device_id, row.phases, details),
            "standing": "reported" if point.blocking == in_order(row.phases) else found,
            "tag": row.tag_number if point.tagged else "",
            "at": last.done_at if last else None,
            "by": last.said_by if last else "",
            "shared": self.shared(clearance.pk, row.device_id),
        }

    def nearby(self, clearance: Clearance) -> str:
        """What is energized by the trace: the limits themselves, else what lies right behind the points."""
        inside = facts.limits_of(clearance, self.compiled)
        alive = in_order({phase for node, phase in inside if self._energized(node, phase)})
        if alive:
            return f"the limits themselves, phase{'s' * (len(alive) > 1)} {', '.join(alive)}"
        places = []
        for point in clearance.points.all():
            device = self.compiled.network.device.get(point.device_id)
            if device is None:
                continue
            sides = [
                any(self._energized(node, phase) for phase in device.phases)
                for node in (device.from_node, device.to_node)
            ]
            if any(sides) and not all(sides):
                kv = self.compiled.network.node[device.from_node].nominal_kv
                places.append(f"{self.where(device.id)} beyond {device.id} ({kv:g} kV)")
        return " and ".join(places)

    def _energized(self, node: str, phase: str) -> bool:
        return (
            phase in self.compiled.network.node[node].phases
            and self.trace.answer(node, phase) is Answer.ENERGIZED
        )


def details_of(clearances: Iterable[Clearance], more: Iterable[str] = ()) -> Details:
    """What is reported of every point of some clearances, and of `more` devices; two queries."""
    wanted = {row.device_id for clearance in clearances for row in clearance.points.all()} | set(more)
    return positions.details(wanted)
