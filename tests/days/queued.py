"""A telephone without a signal in a random day: what it sends later is taken down, and binds nothing."""

import datetime
from collections.abc import Iterator
from contextlib import contextmanager

from hypothesis import strategies
from hypothesis.stateful import rule

from circuits.models import Device
from clearances.models import Step
from clearances.services import calls, giving, reporting, seen
from clearances.services.verb import Outcome, Refused

from .ordering import A_CLEARANCE, DEVICES, NAMES, WHICH, Ordering, is_there

MINUTES = strategies.integers(2, 90)
AHEAD = strategies.sampled_from([0, 0, 9, -9])


class Queued(Ordering):
    @contextmanager
    def no_signal(self, minutes: int, ahead: int) -> Iterator[None]:
        self.waited = datetime.timedelta(minutes=minutes)
        self.ahead = datetime.timedelta(minutes=ahead)
        try:
            yield
        finally:
            self.waited = self.ahead = datetime.timedelta()

    @rule(
        which=WHICH,
        act=strategies.sampled_from(["ground", "sign", "none", "present"]),
        off=strategies.booleans(),
        name=NAMES,
        minutes=MINUTES,
        ahead=AHEAD,
    )
    @A_CLEARANCE
    def send_late_from_the_line(
        self, which: int, act: str, off: bool, name: str, minutes: int, ahead: int
    ) -> None:
        if row := self.one(which):
            with self.no_signal(minutes, ahead):
                if act == "ground":
                    self.ground(row, "G3", off=off)
                elif act == "sign":
                    self.sign(row, name, off=off)
                else:
                    self.test(row, act)

    @rule(
        which=WHICH,
        number=strategies.integers(0, 9),
        minutes=MINUTES,
        ahead=AHEAD,
        stuck=strategies.booleans(),
    )
    @is_there("step")
    def send_a_step_late(self, which: int, number: int, minutes: int, ahead: int, stuck: bool) -> None:
        row = self.one(which)
        if not row or not (steps := list(Step.objects.filter(order=row.pk))):
            return
        step = steps[number % len(steps)]
        has = str(Device.objects.values_list("phases", flat=True).get(pk=step.device_id))
        with self.no_signal(minutes, ahead):
            if stuck:
                who, at = self.who("sal"), self.clock()
                self.did(seen.report_stuck(who, step=step.pk, phases=has, done_at=at), seen=True)
            else:
                self.report(step, has, tag=True)

    @rule(
        device=strategies.sampled_from(DEVICES),
        position=strategies.sampled_from(["open", "closed", "blown", "half"]),
        tag=strategies.sampled_from(["", "gone", "hung"]),
        minutes=MINUTES,
        ahead=AHEAD,
    )
    def send_a_position_late(self, device: str, position: str, tag: str, minutes: int, ahead: int) -> None:
        has = str(Device.objects.values_list("phases", flat=True).get(pk=device))
        with self.no_signal(minutes, ahead):
            who, at = self.who("sal"), self.clock()
            if position == "half":
                self.did(calls.report_half_bright(who, place="T-217", done_at=at), seen=True)
            elif position == "blown":
                at_once = {"closed_at": at, "dropped_at": at}
                self.did(seen.report_blown(who, device=device, phases=has, **at_once), seen=True)
            else:
                self.did(
                    reporting.report_position(
                        who, device=device, phases=has, position=position, done_at=at, tag=tag
                    ),
                    seen=True,
                )

    @rule(
        which=WHICH,
        minutes=MINUTES,
        act=strategies.sampled_from(["accept", "release", "give", "open", "never"]),
    )
    @A_CLEARANCE
    def press_too_late(self, which: int, minutes: int, act: str) -> None:
        """What binds by being said now is refused, whoever says it."""
        if not (row := self.one(which)):
            return
        step = Step.objects.filter(order=row.pk).first()
        with self.no_signal(minutes, 0):
            who, held = self.who(row.holder.username), {"clearance": row.pk}
            outcome: Outcome
            if act == "accept":
                outcome = giving.accept_clearance(who, read_back="points", **held)
            elif act == "release":
                outcome = giving.release_clearance(
                    who, version=None, told_everyone=True, all_off=True, **held
                )
            elif act == "give" and step:
                outcome = self.give(row, step)
            elif act == "open":
                outcome = seen.open_now(who, device="C-208", phases="A")
            else:
                outcome = seen.ground_never_on(who, label="G3", second="Sal Moreno", **held)
        self.did(outcome)
        assert isinstance(outcome, Refused)
        assert [no.code for no in outcome.refusals] == ["not_from_a_queue"]
