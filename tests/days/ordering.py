"""Clearances as their people move them, rightly and wrongly, and what the field reports of their steps."""

import datetime
from collections.abc import Callable
from typing import Any

from django.utils import timezone
from hypothesis import note, strategies
from hypothesis.stateful import precondition, rule

from circuits.models import Device
from clearances.models import Clearance, RollCall, Step
from clearances.services import (
    asking,
    calling_off,
    customers,
    giving,
    orders,
    planning,
    reporting,
    rollcall,
    switching,
    way_back,
)
from clearances.services.verb import Outcome, Who

from .going_on import CHOICES, GoingOn

LIMITS = (
    ("P-213", "P-218", "ABC"),
    ("P-207", "P-208", "ABC"),
    ("P-251", "P-253", "B"),
    ("P-282", "P-283", "ABC"),
    ("P-272", "P-273", "ABC"),
)
DEVICES = ("C-208", "C-221", "D-219", "D-212", "J-207", "C-233", "S-217", "F-217", "R-31", "N-7")
RIGHT = "whoever may"
PEOPLE = strategies.sampled_from([*[RIGHT] * 4, "dana", "ines", "ana", "bo", "tom", "sal"])
HOLDERS = strategies.sampled_from(["ana", "bo", "ana", "bo", "tom"])
NAMES = strategies.sampled_from(["Sal Moreno", "Lee Abara"])
WHICH = strategies.integers(0, 5)
PHASES = strategies.sampled_from(["A", "B", "C", "AB", "BC", "ABC"])


def some_of(device: str, phases: str) -> str:
    """Those of the phases that a device has; all that it has, where it has none of them."""
    has = Device.objects.get(pk=device).phases
    return "".join(letter for letter in phases if letter in has) or has


def is_there(kind: str) -> Callable[[Any], Any]:
    """A rule about a kind of thing, once the board has one."""
    return precondition(lambda self: any(kind == name for name, _ in self.entered))


A_CLEARANCE = is_there("clearance")


class Ordering(GoingOn):
    def by(self, person: str, right: str) -> Who:
        return self.who(right if person == RIGHT else person)

    # Acts that may be refused.

    @rule(limits=strategies.sampled_from(LIMITS), holder=HOLDERS, own=strategies.booleans())
    @precondition(lambda self: Clearance.objects.count() < 4)
    def ask(self, limits: tuple[str, str, str], holder: str, own: bool) -> None:
        start = timezone.now() - datetime.timedelta(minutes=30)
        self.did(
            asking.ask_for_clearance(
                self.who(holder),
                from_pole=limits[0],
                to_pole=limits[1],
                phases=limits[2],
                work="work",
                reason_for_customers="work",
                crew="line 1",
                window_start=start,
                promised_end=start + datetime.timedelta(hours=4),
                latest_finish=start + datetime.timedelta(hours=5),
                recall_minutes=20,
                own_clearance=own,
            )
        )

    @rule(which=WHICH)
    @A_CLEARANCE
    def ask_for_next_stage(self, which: int) -> None:
        if (row := self.one(which)) and row.stage < 2:
            start = row.promised_end
            self.did(
                asking.ask_for_next_stage(
                    self.who(row.holder.username),
                    clearance=row.pk,
                    work="more",
                    transformer="T-217",
                    window_start=start,
                    promised_end=start + datetime.timedelta(hours=1),
                    latest_finish=start + datetime.timedelta(hours=1),
                    own_clearance=True,
                )
            )

    @rule(
        which=WHICH,
        devices=strategies.sampled_from(CHOICES),
        by=PEOPLE,
        tie=strategies.sampled_from(["", "", "N-7"]),
    )
    @A_CLEARANCE
    def choose(self, which: int, devices: tuple[str, ...], by: str, tie: str) -> None:
        if row := self.one(which):
            args: dict[str, Any] = {"clearance": row.pk, "version": row.version, "devices": list(devices)}
            self.did(planning.choose_points(self.by(by, "dana"), closes=[tie] if tie else [], **args))

    @rule(which=WHICH, number=strategies.integers(0, 9), before=strategies.integers(0, 9), by=PEOPLE)
    @A_CLEARANCE
    def move_step(self, which: int, number: int, before: int, by: str) -> None:
        if (row := self.one(which)) and (steps := list(Step.objects.filter(order=row.pk))):
            step = steps[number % len(steps)]
            who = self.by(by, row.order.written_by.username)
            self.did(orders.move_step(who, step=step.pk, version=row.version, before=before))

    @rule(
        which=WHICH,
        by=PEOPLE,
        verb=strategies.sampled_from(
            [orders.write_order, orders.check_order, giving.give_clearance, switching.resume_order]
        ),
    )
    @A_CLEARANCE
    def desk(self, which: int, by: str, verb: Callable[..., Outcome]) -> None:
        if row := self.one(which):
            why = {"why": "looked at"} if verb is switching.resume_order else {}
            right = "ines" if verb is orders.check_order else "dana"
            self.did(verb(self.by(by, right), clearance=row.pk, version=row.version, **why))

    @rule(
        which=WHICH,
        verb=strategies.sampled_from(
            [
                orders.take_check_back,
                giving.take_clearance_back,
                calling_off.call_off_job,
                way_back.write_way_back,
            ]
        ),
    )
    @A_CLEARANCE
    def undo(self, which: int, verb: Callable[..., Outcome]) -> None:
        if row := self.one(which):
            self.did(verb(self.who("dana"), clearance=row.pk, version=row.version, why="changed"))

    @rule(which=WHICH)
    @A_CLEARANCE
    def tell(self, which: int) -> None:
        if row := self.one(which):
            count = row.affected.filter(told=0).count()
            self.did(customers.tell_customers(self.who("dana"), clearance=row.pk, count=count))

    @rule(which=WHICH, by=PEOPLE, hours=strategies.integers(-1, 9))
    @A_CLEARANCE
    def move_the_end(self, which: int, by: str, hours: int) -> None:
        if row := self.one(which):
            later = row.promised_end + datetime.timedelta(hours=hours)
            end: dict[str, Any] = {"clearance": row.pk, "promised_end": later, "why": "rock"}
            self.did(asking.move_promised_end(self.by(by, row.holder.username), **end))

    @rule(which=WHICH, by=PEOPLE, told=strategies.booleans())
    @A_CLEARANCE
    def release(self, which: int, by: str, told: bool) -> None:
        if row := self.one(which):
            said: dict[str, Any] = {
                "clearance": row.pk,
                "version": None,
                "told_everyone": told,
                "all_off": True,
            }
            self.did(giving.release_clearance(self.by(by, row.holder.username), **said))

    @rule(which=WHICH, by=PEOPLE)
    @A_CLEARANCE
    def accept(self, which: int, by: str) -> None:
        if row := self.one(which):
            who = self.by(by, row.holder.username)
            self.did(giving.accept_clearance(who, clearance=row.pk, read_back="read back"))

    @rule(which=WHICH, number=strategies.integers(0, 9), by=PEOPLE)
    @A_CLEARANCE
    def give_any_step(self, which: int, number: int, by: str) -> None:
        if (row := self.one(which)) and (steps := list(Step.objects.filter(order=row.pk))):
            self.did(self.give(row, steps[number % len(steps)], "dana" if by == RIGHT else by))

    @rule(which=WHICH)
    @A_CLEARANCE
    def leave_out(self, which: int) -> None:
        row = self.one(which)
        step = Step.objects.filter(order=row.pk, state="waiting", operation="close").first() if row else None
        if row and step:
            who = self.who("dana")
            self.did(switching.leave_step_out(who, step=step.pk, version=row.version, why="held"))

    @rule(which=WHICH)
    @A_CLEARANCE
    def call_back(self, which: int) -> None:
        row = self.one(which)
        step = Step.objects.filter(order=row.pk, state="given").first() if row else None
        if row and step:
            who = self.who("dana")
            self.did(switching.call_step_back(who, step=step.pk, version=row.version, why="wrong pole"))

    @rule(agrees=strategies.booleans(), by=PEOPLE)
    @is_there("roll-call")
    def answer_roll_call(self, agrees: bool, by: str) -> None:
        if call := RollCall.objects.filter(answered_at=None).first():
            who = self.by(by, call.clearance.holder.username)
            self.did(rollcall.answer_roll_call(who, call=call.pk, agrees=agrees))

    # The right next thing, so that days get somewhere.

    @rule(which=WHICH, acts=strategies.sampled_from([3, 8, 16]))
    @A_CLEARANCE
    def go_on(self, which: int, acts: int) -> None:
        if row := self.one(which):
            self.go_on_with(row, acts)

    @rule()
    @A_CLEARANCE
    def everybody_goes_on(self) -> None:
        for row in [*Clearance.objects.order_by("pk")] * 2:
            self.go_on_with(row, 2)

    def go_on_with(self, row: Clearance, acts: int) -> None:
        """Until something is refused, whose way past has then been tried."""
        for _ in range(acts):
            row.refresh_from_db()
            note(f"go on with {row.pk}, {row.state}")
            before = self.looked_at
            self.right(row)
            if self.looked_at == before:
                break

    # Observations: never refused.

    @rule(which=WHICH, number=strategies.integers(0, 9), phases=PHASES, tag=strategies.booleans())
    @A_CLEARANCE
    def report_any_step(self, which: int, number: int, phases: str, tag: bool) -> None:
        if (row := self.one(which)) and (steps := list(Step.objects.filter(order=row.pk))):
            step = steps[number % len(steps)]
            self.report(step, some_of(step.device_id, phases), tag=tag)

    @rule(
        device=strategies.sampled_from(DEVICES),
        position=strategies.sampled_from(["open", "closed"]),
        tag=strategies.sampled_from(["", "seen", "gone", "hung"]),
        minutes=strategies.integers(0, 30),
    )
    def find_a_position(self, device: str, position: str, tag: str, minutes: int) -> None:
        self.did(
            reporting.report_position(
                self.who("sal"),
                device=device,
                phases=Device.objects.get(pk=device).phases,
                position=position,
                done_at=self.clock() - datetime.timedelta(minutes=minutes),
                made_inoperable="barrels out" if position == "open" else "",
                tag=tag,
            ),
            seen=True,
        )

    @rule(which=WHICH, result=strategies.sampled_from(["none", "present"]))
    @A_CLEARANCE
    def test_for_voltage(self, which: int, result: str) -> None:
        if row := self.one(which):
            self.test(row, result)

    @rule(which=WHICH, label=strategies.sampled_from(["G3", "G5"]), off=strategies.booleans())
    @A_CLEARANCE
    def move_a_ground(self, which: int, label: str, off: bool) -> None:
        if row := self.one(which):
            self.ground(row, label, off=off)

    @rule(which=WHICH, name=NAMES, off=strategies.booleans())
    @A_CLEARANCE
    def sign_somebody(self, which: int, name: str, off: bool) -> None:
        if row := self.one(which):
            self.sign(row, name, off=off)
