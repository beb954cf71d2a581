"""What goes wrong in a random day: the wrong device, a stuck phase, a link that blows, an opening in an
emergency, a lost neutral, a ground set that never was; and what the desk says of its troubles.
"""

import datetime
from typing import Any

from django.utils import timezone
from hypothesis import strategies
from hypothesis.stateful import rule

from circuits.models import Device
from clearances.models import LogEntry, Step, Trouble
from clearances.services import calls, reporting, seen, troubles

from .ordering import DEVICES, NAMES, PEOPLE, PHASES, WHICH, Ordering, is_there, some_of

ANY = strategies.sampled_from(DEVICES)


class Seen(Ordering):
    def any_step(self, which: int, number: int) -> Step | None:
        row = self.one(which)
        steps = list(Step.objects.filter(order=row.pk)) if row else []
        return steps[number % len(steps)] if steps else None

    @rule(
        which=WHICH,
        number=strategies.integers(0, 9),
        device=ANY,
        phases=PHASES,
        position=strategies.sampled_from(["open", "closed"]),
    )
    @is_there("step")
    def operate_the_wrong_device(
        self, which: int, number: int, device: str, phases: str, position: str
    ) -> None:
        if step := self.any_step(which, number):
            self.did(
                seen.report_wrong_device(
                    self.who("sal"),
                    step=step.pk,
                    device=device,
                    phases=some_of(device, phases),
                    done_at=self.clock(),
                    position=position,
                ),
                seen=True,
            )

    @rule(which=WHICH, number=strategies.integers(0, 9), phases=PHASES)
    @is_there("step")
    def find_it_stuck(self, which: int, number: int, phases: str) -> None:
        if step := self.any_step(which, number):
            stuck: dict[str, Any] = {"step": step.pk, "phases": some_of(step.device_id, phases)}
            self.did(seen.report_stuck(self.who("sal"), done_at=self.clock(), **stuck), seen=True)

    @rule(device=ANY, held=strategies.integers(-1, 2))
    def close_and_see_it_drop(self, device: str, held: int) -> None:
        phases = str(Device.objects.values_list("phases", flat=True).get(pk=device))
        at = self.clock()
        blown: dict[str, Any] = {"closed_at": at, "dropped_at": at + datetime.timedelta(seconds=held)}
        self.did(seen.report_blown(self.who("sal"), device=device, phases=phases, **blown), seen=True)

    @rule(device=ANY)
    def patrol(self, device: str) -> None:
        at = self.clock()
        self.did(seen.report_patrol(self.who("sal"), device=device, found="nothing", done_at=at), seen=True)

    @rule(device=ANY, phases=PHASES)
    def open_in_an_emergency(self, device: str, phases: str) -> None:
        self.did(seen.open_now(self.who("sal"), device=device, phases=some_of(device, phases)), seen=True)

    @rule(place=strategies.sampled_from(["T-217", "P-213", "the yard"]))
    def find_lamps_half_bright(self, place: str) -> None:
        self.did(calls.report_half_bright(self.who("sal"), place=place, done_at=self.clock()), seen=True)

    @rule(which=WHICH, label=strategies.sampled_from(["G3", "G5"]), second=NAMES, by=PEOPLE)
    @is_there("ground set")
    def take_a_ground_back(self, which: int, label: str, second: str, by: str) -> None:
        if row := self.one(which):
            never: dict[str, Any] = {"clearance": row.pk, "label": label, "second": second}
            self.did(seen.ground_never_on(self.by(by, row.holder.username), **never))

    @rule(by=PEOPLE)
    def answer_what_is_irregular(self, by: str) -> None:
        if entry := LogEntry.objects.exclude(irregular="").order_by("-number").first():
            self.did(reporting.answer_irregular(self.by(by, "dana"), entry=entry.pk, answer="seen"))

    @rule(
        which=WHICH,
        act=strategies.sampled_from(["cause", "crew", "promise"]),
        by=PEOPLE,
        behind=strategies.integers(0, 1),
        hours=strategies.integers(-1, 3),
    )
    @is_there("trouble")
    def say_of_a_trouble(self, which: int, act: str, by: str, behind: int, hours: int) -> None:
        if not (rows := list(Trouble.objects.order_by("pk"))):
            return
        row = rows[which % len(rows)]
        about: dict[str, Any] = {"trouble": row.pk, "version": row.version - behind}
        who, later = self.by(by, "dana"), timezone.now() + datetime.timedelta(hours=hours)
        if act == "cause":
            self.did(troubles.say_cause(who, cause="a branch", **about))
        elif act == "crew":
            self.did(troubles.send_crew(who, crew="line 2", **about))
        else:
            self.did(troubles.promise_power_back(who, back_by=later if hours else None, say="soon", **about))
