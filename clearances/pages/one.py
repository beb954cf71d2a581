"""One clearance with all that stands under it, as the desk's page and the phone's sheet read it."""

from dataclasses import replace
from functools import cached_property
from typing import Any

from django.db.models import Prefetch
from django.http import Http404

from circuits.core import isolation
from circuits.core.isolation import LivePath
from circuits.models import Premises

from .. import effects, facts, pickups
from ..models import (
    AffectedPremises,
    Clearance,
    LogEntry,
    Person,
    SourceDisposition,
    Step,
    SwitchingOrder,
    VoltageTest,
)
from ..rules import facts as values
from ..rules.words import in_order
from .desk import begun
from .picture import Details, Picture, Row, details_of

LOGGED = 200  # entries shown; a job of one day has fewer than a hundred


class One(Picture):
    """The picture with one clearance in it."""

    def __init__(self, person: Person, back: str, number: int) -> None:
        super().__init__(person, back)
        rows = Clearance.objects.select_related(
            "job__requested_by", "holder", "alternate", "given_by", "released_by",
            "order__written_by", "order__checked_by",
        ).prefetch_related(
            "limits", "points", "pick_ups", "sign_ons", "ground_sets", "tests", "tags",
            Prefetch("dispositions", SourceDisposition.objects.select_related("agreed_by")),
            Prefetch(
                "affected",
                AffectedPremises.objects.select_related("premises").order_by("premises__address", "pk"),
            ),
        )  # fmt: skip
        found = rows.filter(pk=number).first()
        if found is None:
            raise Http404(f"There is no work clearance {number}.")
        self.clearance: Clearance = found

    @cached_property
    def order(self) -> SwitchingOrder | None:
        return getattr(self.clearance, "order", None)

    @cached_property
    def steps(self) -> list[Step]:
        rows = Step.objects.filter(order=self.clearance.pk).select_related("device", "point")
        return list(rows.order_by("half", "place"))

    @cached_property
    def plan(self) -> bool:
        """Nothing of it is real yet: not given, and none of its steps is."""
        return self.clearance.state == Clearance.State.ASKED and not begun(self.steps)

    @cached_property
    def details(self) -> Details:
        return details_of([self.clearance])

    @cached_property
    def standing(self) -> tuple[values.Point, ...]:
        return self.points(self.clearance, self.details)

    @cached_property
    def chosen(self) -> dict[str, str]:
        """The phases of devices that keep sources out: on a plan all that are chosen, else what is reported
        open, inoperable and tagged."""
        return {
            point.device: in_order(point.phases) if self.plan else point.blocking for point in self.standing
        }

    @cached_property
    def every_way(self) -> tuple[LivePath, ...]:
        """The ways in that are left."""
        return facts.live_paths(self.compiled, self.clearance, self._blocked)

    @cached_property
    def live(self) -> tuple[LivePath, ...]:
        """The nearest of them, none only if there are none."""
        return tuple(facts.nearest(self.every_way))

    @cached_property
    def _blocked(self) -> dict[str, str]:
        return {device: phases for device, phases in self.chosen.items() if phases}

    @cached_property
    def known(self) -> values.Clearance:
        """The same for the rules."""
        paths = facts.told(self.compiled, self.every_way)
        return replace(facts.facts_of(self.clearance, trace_paths=False), paths=paths)

    @cached_property
    def planned_out(self) -> set[str]:
        """The premises that lose their supply when the points are open and the ties closed."""
        plan = pickups.planned(self.clearance, self.chosen)
        return effects.loses(self.open_now, plan.on(self.open_now))

    @cached_property
    def tested(self) -> list[VoltageTest]:
        """The tests that count since it was accepted, the last one last."""
        return list(facts.tested_since_accepted(self.clearance))

    @cached_property
    def untested(self) -> str:
        """The phases inside the limits that no such test covers."""
        inside = set(facts.phases_of(self.clearance.limits.all()))
        return in_order(inside - set(facts.phases_of(self.tested)))

    @cached_property
    def entries(self) -> list[LogEntry]:
        """The operations log of this clearance, newest first."""
        rows = LogEntry.objects.filter(clearance=self.clearance).select_related("by", "speaking_for")
        return list(rows.order_by("-number")[:LOGGED])

    @cached_property
    def addresses(self) -> dict[str, str]:
        """Where the customers' sources are, by source."""
        at = {source.id: source.premises for source in self.compiled.network.sources if source.premises}
        rows = Premises.ever.in_bulk(list(set(at.values())))
        return {source: rows[premises].address for source, premises in at.items() if premises in rows}

    def source(self, source_id: str) -> str:
        """A source in words: what it is and where."""
        source = self.compiled.network.source.get(source_id)
        if source is None:
            return f"{source_id}, no longer on the network"
        address = self.addresses.get(source_id)
        return source.called + (f" at {address}" if address else "")

    def feeds(self) -> dict[str, list[Any]]:
        """What could feed the limits: left, blocked and by what, and what nobody can know from here."""
        every = facts.live_paths(self.compiled, self.clearance, {})
        left = set(self.every_way)
        inside = facts.limits_of(self.clearance, self.compiled)
        tagged = {point.device: point.tag_number for point in self.standing}
        blocked: dict[str, list[LivePath]] = {}
        for path in every:
            by = [
                f"{element.id} {' '.join(self.chosen[element.id])}, tag {tagged[element.id]}"
                for element in path.over
                if set(element.phase) <= set(self.chosen.get(element.id, ""))
            ]
            if by and path not in left:
                blocked.setdefault(", ".join(by), []).append(path)
        told = [
            {
                "words": f"{self.source(path.source_id)}, behind a transfer switch on record",
                "disposition": "told to the crew; tests and grounds stand against it",
            }
            for path in isolation.told(
                self.compiled, facts.still_blocks(self.compiled, self._blocked), inside
            )
        ]
        agreed = [
            {
                "words": self.source(row.source_id),
                "disposition": f"{row.decision}; {row.agreed_by} agreed",
            }
            for row in self.clearance.dispositions.all()
        ]
        return {
            "live": [way.words for way in facts.told(self.compiled, self.every_way)],
            "blocked": [
                {"words": way.words, "by": by}
                for by, paths in blocked.items()
                for way in facts.told(self.compiled, paths)
            ],
            "told": told + agreed,
        }

    def point_rows(self) -> list[Row]:
        rows = self.clearance.points.all()
        return [
            self.point_row(self.clearance, row, point, self.details)
            for row, point in zip(rows, self.standing, strict=True)
        ]

    @cached_property
    def complete(self) -> int:
        """How many points are reported open, made inoperable and tagged on every phase."""
        return sum(point.blocking == in_order(point.phases) for point in self.standing)

    @property
    def life_support(self) -> list[AffectedPremises]:
        return [row for row in self.clearance.affected.all() if row.care == "life_support"]
