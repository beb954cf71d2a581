"""What the desk's first screen reads: the work that is under way or ahead, and all that stands under it."""

from datetime import datetime, timedelta
from functools import cached_property

from django.db.models import Count, Max, Q
from django.utils import timezone

from .. import flags, watch
from ..facts import OUT, UNDER_WAY
from ..models import AffectedPremises, BrokenProof, Clearance, LogEntry, Person, Step, SwitchingOrder
from ..rules import facts as values
from .out import Open, open_troubles
from .picture import Details, Picture, details_of

# What only the people on the line say: by these the desk has heard from them.
HEARD = (
    "accept_clearance",
    "sign_on",
    "sign_off",
    "report_test",
    "ground_on",
    "ground_off",
    "remark",
    "move_promised_end",
)


class Desk(Picture):
    """The picture of the network with the clearances that are asked for, out, or not restored yet, and those
    that were released today. About twenty queries, however many there are."""

    @cached_property
    def midnight(self) -> datetime:
        return timezone.localtime(self.now).replace(hour=0, minute=0, second=0, microsecond=0)

    @cached_property
    def clearances(self) -> list[Clearance]:
        ahead = Q(state__in=[Clearance.State.ASKED, *OUT])
        today = Q(state=Clearance.State.RELEASED, released_at__gte=self.midnight)
        return list(
            Clearance.objects.filter(ahead | today | Q(order__state__in=UNDER_WAY))
            .select_related("job", "holder", "given_by", "released_by", "order__written_by")
            .prefetch_related(
                "limits", "points", "dispositions", "sign_ons", "ground_sets", "order__steps__point"
            )
            .order_by("given_at", "window_start", "pk")
        )

    @cached_property
    def out(self) -> list[Clearance]:
        return [one for one in self.clearances if one.state in OUT]

    @cached_property
    def at_work(self) -> list[Clearance]:
        """Those that are out, and those whose order has begun or is not restored yet: what is drawn."""
        waiting = Step.State.WAITING
        return [
            one
            for one in self.clearances
            if one.state in OUT
            or (
                (order := self.order(one))
                and order.state in UNDER_WAY
                and any(s.state != waiting for s in self.steps(one))
            )
        ]

    @cached_property
    def asked(self) -> list[Clearance]:
        asked = [one for one in self.clearances if one.state == Clearance.State.ASKED]
        return sorted(asked, key=lambda one: (one.window_start, one.pk))

    @cached_property
    def released_today(self) -> list[Clearance]:
        return [
            one
            for one in self.clearances
            if one.state == Clearance.State.RELEASED and one.released_at and one.released_at >= self.midnight
        ]

    def order(self, clearance: Clearance) -> SwitchingOrder | None:
        return getattr(clearance, "order", None)

    def steps(self, clearance: Clearance) -> list[Step]:
        order = self.order(clearance)
        return list(order.steps.all()) if order else []

    @cached_property
    def abnormal(self) -> list[str]:
        """The devices that do not stand as they normally do."""
        moved = {device for device, _ in self.open_now.items() ^ self.normal.items()}
        return sorted(moved, key=self.compiled.device_order.__getitem__)

    @cached_property
    def details(self) -> Details:
        return details_of([*self.out, *self.asked], self.abnormal)

    @cached_property
    def standing(self) -> dict[int, tuple[values.Point, ...]]:
        """The points of each clearance that is out, as reported."""
        return {one.pk: self.points(one, self.details) for one in self.out}

    @cached_property
    def broken(self) -> dict[int, list[str]]:
        """For each clearance that is out, the ways by which a source reaches its limits: should be none."""
        return {one.pk: self.paths(one, self.standing[one.pk]) for one in self.out}

    @cached_property
    def unanswered_proofs(self) -> list[BrokenProof]:
        """The broken proofs whose holder has not said that everybody is off."""
        return watch.waiting()

    @cached_property
    def heard(self) -> dict[int, datetime]:
        """When the people under each clearance that is out were last heard of."""
        entries = LogEntry.objects.filter(clearance__in=self.out, verb__in=HEARD).order_by()
        return dict(entries.values_list("clearance_id").annotate(Max("entered_at")))

    @cached_property
    def affected(self) -> dict[int, str]:
        """How many premises the checked order of each clearance takes out, and how many more for minutes."""
        rows = AffectedPremises.objects.filter(clearance__in=self.clearances).order_by()
        counted = rows.values_list("clearance_id").annotate(
            every=Count("pk"), for_minutes=Count("pk", filter=Q(briefly=True))
        )
        return {
            number: f"{every - briefly}, {briefly} for minutes" if briefly else str(every)
            for number, every, briefly in counted
        }

    @cached_property
    def untold(self) -> dict[int, int]:
        """How many of them have not been told of the planned interruption."""
        rows = AffectedPremises.objects.filter(clearance__in=self.asked, told=0).order_by()
        return dict(rows.values_list("clearance_id").annotate(Count("pk")))

    @cached_property
    def unanswered(self) -> list[AffectedPremises]:
        """Life-support premises of coming work for which no person has answered."""
        return list(
            AffectedPremises.objects.filter(
                clearance__in=self.asked,
                clearance__order__state__in=UNDER_WAY,
                care="life_support",
                answered_at=None,
            )
            .select_related("premises")
            .order_by("clearance__window_start", "premises__address")
        )

    @cached_property
    def phones(self) -> dict[str, str]:
        """The telephone of everybody who has one, by name."""
        return {str(person): person.phone for person in Person.objects.exclude(phone="")}

    @cached_property
    def given(self) -> list[tuple[Clearance, Step]]:
        """The steps that are given and not yet reported, the longest waiting first."""
        waiting = [
            (one, step)
            for one in self.clearances
            for step in self.steps(one)
            if step.state == Step.State.GIVEN
        ]
        return sorted(waiting, key=lambda pair: (pair[1].given_at or self.now, pair[1].pk))

    @cached_property
    def orders_at(self) -> dict[str, str]:
        """For each device that an order under way still has a step for, that step in words; of a clearance
        that is out only what picks load up, since its points have tags."""
        found: dict[str, str] = {}
        for one in self.clearances:
            order = self.order(one)
            if order is None or order.state not in UNDER_WAY:
                continue
            for step in self.steps(one):
                if step.state not in (Step.State.WAITING, Step.State.GIVEN):
                    continue
                stands = "to come" if step.state == Step.State.WAITING else "given"
                words = f"order {one.pk}, step {step.place} {stands}"
                if step.point_id is None and step.half == Step.Half.RESTORE:
                    found.setdefault(step.device_id, f"moved so that fewer are out, {words}")
                elif one.state not in OUT:
                    found.setdefault(step.device_id, words)
        return found

    @cached_property
    def troubles(self) -> list[Open]:
        """The unplanned interruptions that have not ended, the oldest first."""
        return open_troubles()

    @cached_property
    def flags(self) -> list[flags.Raised]:
        return flags.current()

    def since(self, device_id: str) -> datetime | None:
        times = [
            report.done_at for (device, _), report in self.details.items() if device == device_id and report
        ]
        return max(times, default=None)

    def begun(self, clearance: Clearance) -> bool:
        return begun(self.steps(clearance))

    def ago(self, minutes: int) -> datetime:
        return self.now - timedelta(minutes=minutes)


def begun(steps: list[Step]) -> bool:
    """Whether the first step of an order has been given."""
    return any(
        step.state in (Step.State.GIVEN, Step.State.REPORTED) or step.reported_phases for step in steps
    )
