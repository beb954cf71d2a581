"""Days of right and wrong acts in any order: whatever people do and report, some things never happen.

No device is ordered closed while a tag hangs on it; nobody releases with people or grounds on; no energized
zone lies under an accepted clearance without a flag that says so; the log replayed is what the tables say,
and its moves are those of the transition table; no observation is refused.
"""

import datetime
from collections.abc import Callable
from typing import Any
from unittest import mock

from django.utils import timezone
from hypothesis import event, note, strategies
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from circuits import positions, snapshot
from circuits.core.trace import Answer, trace
from circuits.models import Device
from clearances import facts, flags, log, replay
from clearances.models import Clearance, LogEntry, Person, RollCall, Step, Tag
from clearances.rules.transitions import TRANSITIONS
from clearances.services import (
    asking,
    calling_off,
    customers,
    giving,
    on_the_line,
    planning,
    reporting,
    rollcall,
    switching,
    way_back,
)
from clearances.services.verb import Done, Outcome, Refused, Stale
from tests.cast import Cast
from tests.stages import Stages

from .conftest import DAYS

LIMITS = (("P-213", "P-218", "ABC"), ("P-207", "P-208", "ABC"), ("P-251", "P-253", "B"))
CHOICES = (("C-208", "C-221", "D-219", "D-212"), ("J-207", "C-208"), ("C-233",), ("C-208",))
DEVICES = ("C-208", "C-221", "D-219", "D-212", "J-207", "C-233", "S-217", "F-217")
PEOPLE = strategies.sampled_from(["dana", "ines", "ana", "bo", "tom", "sal"])
NAMES = strategies.sampled_from(["Sal Moreno", "Lee Abara"])
WHICH = strategies.integers(0, 5)
PHASES = strategies.sampled_from(["A", "B", "C", "AB", "BC", "ABC"])


class Day(RuleBasedStateMachine):
    """The board from the demo's first minute on; `stages` is set by the test."""

    stages: Stages

    def __init__(self) -> None:
        super().__init__()
        self.stages.enter("the demo")
        self.hints = mock.patch("notifications.wakeup.hint")
        self.hints.start()
        self.cast = Cast.present()
        self.seen = 0
        self.states: dict[tuple[str, str], str] = {}

    def teardown(self) -> None:
        for kind, state in sorted({(kind, state) for (kind, _), state in self.states.items()}):
            event(f"a day ended with a {kind} {state}")
        self.hints.stop()
        self.stages.leave()

    # What acts are about.

    def who(self, name: str, for_name: str = "") -> Any:
        speaking_for = Person.objects.get(username=for_name) if for_name else None
        how = "radio" if for_name else "board"
        return self.cast.who(Person.objects.get(username=name), speaking_for, how)

    def one(self, which: int) -> Clearance | None:
        rows = list(Clearance.objects.order_by("pk"))
        return rows[which % len(rows)] if rows else None

    def did(self, outcome: Outcome, *, seen: bool = False) -> Outcome:
        """`seen`: it was an observation, which is never refused for what it says."""
        note(f"{type(outcome).__name__}: {outcome}"[:300])
        assert isinstance(outcome, Done | Refused | Stale)
        if seen:
            assert isinstance(outcome, Done), outcome
        return outcome

    # Acts that may be refused.

    @rule(
        limits=strategies.sampled_from(LIMITS),
        holder=strategies.sampled_from(["ana", "bo", "tom"]),
        own=strategies.booleans(),
    )
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

    @rule(which=WHICH, devices=strategies.sampled_from(CHOICES), by=PEOPLE)
    def choose(self, which: int, devices: tuple[str, ...], by: str) -> None:
        if row := self.one(which):
            args: dict[str, Any] = {"clearance": row.pk, "version": row.version, "devices": list(devices)}
            self.did(planning.choose_points(self.who(by), **args))

    @rule(
        which=WHICH,
        by=PEOPLE,
        verb=strategies.sampled_from(
            [planning.write_order, planning.check_order, giving.give_clearance, switching.resume_order]
        ),
    )
    def desk(self, which: int, by: str, verb: Callable[..., Outcome]) -> None:
        if row := self.one(which):
            why = {"why": "looked at"} if verb is switching.resume_order else {}
            self.did(verb(self.who(by), clearance=row.pk, version=row.version, **why))

    @rule(
        which=WHICH,
        verb=strategies.sampled_from(
            [
                planning.take_check_back,
                giving.take_clearance_back,
                calling_off.call_off_job,
                way_back.write_way_back,
            ]
        ),
    )
    def undo(self, which: int, verb: Callable[..., Outcome]) -> None:
        if row := self.one(which):
            self.did(verb(self.who("dana"), clearance=row.pk, version=row.version, why="changed"))

    @rule(which=WHICH, by=PEOPLE, told=strategies.booleans())
    def release(self, which: int, by: str, told: bool) -> None:
        if row := self.one(which):
            said: dict[str, Any] = {
                "clearance": row.pk,
                "version": None,
                "told_everyone": told,
                "all_off": True,
            }
            self.did(giving.release_clearance(self.who(by), **said))

    @rule(which=WHICH, by=PEOPLE)
    def accept(self, which: int, by: str) -> None:
        if row := self.one(which):
            self.did(giving.accept_clearance(self.who(by), clearance=row.pk, read_back="read back"))

    @rule(which=WHICH, number=strategies.integers(0, 9), by=PEOPLE)
    def give_any_step(self, which: int, number: int, by: str) -> None:
        if (row := self.one(which)) and (steps := list(Step.objects.filter(order=row.pk))):
            self.did(self.give(row, steps[number % len(steps)], by))

    @rule(which=WHICH)
    def leave_out(self, which: int) -> None:
        row = self.one(which)
        step = Step.objects.filter(order=row.pk, state="waiting", operation="close").first() if row else None
        if row and step:
            who = self.who("dana")
            self.did(switching.leave_step_out(who, step=step.pk, version=row.version, why="held"))

    @rule(which=WHICH)
    def call_back(self, which: int) -> None:
        row = self.one(which)
        step = Step.objects.filter(order=row.pk, state="given").first() if row else None
        if row and step:
            who = self.who("dana")
            self.did(switching.call_step_back(who, step=step.pk, version=row.version, why="wrong pole"))

    @rule(agrees=strategies.booleans(), by=PEOPLE)
    def answer_roll_call(self, agrees: bool, by: str) -> None:
        if call := RollCall.objects.filter(answered_at=None).first():
            self.did(rollcall.answer_roll_call(self.who(by), call=call.pk, agrees=agrees))

    def give(self, row: Clearance, step: Step, by: str = "dana") -> Outcome:
        version = Clearance.objects.values_list("version", flat=True).get(pk=row.pk)
        return switching.give_step(
            self.who(by), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
        )

    # The right next thing, so that days get somewhere.

    @rule(which=WHICH)
    def go_on(self, which: int) -> None:
        if row := self.one(which):
            for _ in range(6):
                row.refresh_from_db()
                note(f"go on with {row.pk}, {row.state}")
                self.right(row)

    def right(self, row: Clearance) -> None:
        dana, holder = self.who("dana"), self.who(row.holder.username)
        order = getattr(Clearance.objects.get(pk=row.pk), "order", None)
        at: dict[str, Any] = {"clearance": row.pk, "version": row.version}
        if order is None:
            if not row.points.exists():
                start = row.limits.exclude(node=None).values_list("node", flat=True)
                by_limits = {"P-207j": CHOICES[1], "P-251": CHOICES[2], "P-217t": ("F-217", "S-217")}
                devices = next((by_limits[node] for node in start if node in by_limits), CHOICES[0])
                self.did(planning.choose_points(dana, devices=list(devices), **at))
            else:
                self.did(planning.write_order(dana, **at))
        elif order.state == "draft":
            self.did(planning.check_order(self.who("ines"), **at))
        elif order.state == "paused":
            self.did(switching.resume_order(dana, why="looked at", **at))
        elif open_answers := row.affected.filter(care="life_support", answered_at=None):
            said = {"premises": open_answers[0].premises_id, "answered_by": "she", "plan": "away"}
            self.did(customers.record_answer(dana, clearance=row.pk, **said))
        elif row.state in ("asked", "released", "withdrawn"):
            half = "isolate" if row.state == "asked" else "restore"
            steps = Step.objects.filter(order=row.pk, half=half).order_by("place")
            if given := steps.filter(state="given").first():
                self.report(given, given.phases, tag=True)
            elif waiting := steps.filter(state="waiting").first():
                outcome = self.did(self.give(row, waiting))
                if isinstance(outcome, Refused) and any(
                    no.code == "holder_silent" for no in outcome.refusals
                ):
                    self.did(rollcall.call_roll(dana, step=waiting.pk))
            elif row.state == "asked":
                self.did(giving.give_clearance(dana, **at))
        elif row.state == "given":
            self.did(giving.accept_clearance(holder, clearance=row.pk, read_back="limits and points"))
        elif row.state == "frozen":
            self.test(row, "none")
            self.did(giving.end_freeze(dana, finding="a wrong label", **at))
        elif on := row.ground_sets.filter(off_at=None).first():
            self.ground(row, on.label, off=True)
        elif person := row.sign_ons.filter(off_at=None).first():
            self.sign(row, person.name, off=True)
        else:
            done: dict[str, Any] = {"clearance": row.pk, "version": None, "told_everyone": True}
            self.did(giving.release_clearance(holder, all_off=True, **done))

    # Observations: never refused.

    def report(self, step: Step, phases: str, *, tag: bool) -> None:
        opening = step.half == "isolate"
        self.did(
            reporting.report_step(
                self.who("sal"),
                step=step.pk,
                phases=phases,
                done_at=timezone.now(),
                made_inoperable="barrels out" if opening else "",
                tag=tag,
            ),
            seen=True,
        )

    def test(self, row: Clearance, result: str) -> None:
        tests = row.tests.filter(result="present")
        for pole in dict.fromkeys([*tests.values_list("pole", flat=True), "P-214"]):
            self.did(
                on_the_line.report_test(
                    self.who(row.holder.username),
                    clearance=row.pk,
                    pole=pole,
                    phases="ABC",
                    result=result,
                    instrument="12",
                    tester_proven=True,
                    done_at=timezone.now(),
                ),
                seen=True,
            )

    def ground(self, row: Clearance, label: str, *, off: bool) -> None:
        said: dict[str, Any] = {"clearance": row.pk, "label": label, "done_at": timezone.now()}
        who = self.who("sal")
        if off:
            self.did(on_the_line.ground_off(who, **said), seen=True)
        else:
            self.did(on_the_line.ground_on(who, pole="P-214", phases="ABC", **said), seen=True)

    def sign(self, row: Clearance, name: str, *, off: bool) -> None:
        verb = on_the_line.sign_off if off else on_the_line.sign_on
        self.did(verb(self.who("sal"), clearance=row.pk, name=name, done_at=timezone.now()), seen=True)

    @rule(which=WHICH, number=strategies.integers(0, 9), phases=PHASES, tag=strategies.booleans())
    def report_any_step(self, which: int, number: int, phases: str, tag: bool) -> None:
        if (row := self.one(which)) and (steps := list(Step.objects.filter(order=row.pk))):
            step = steps[number % len(steps)]
            has = Device.objects.get(pk=step.device_id).phases
            self.report(step, "".join(letter for letter in phases if letter in has) or has, tag=tag)

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
                done_at=timezone.now() - datetime.timedelta(minutes=minutes),
                made_inoperable="barrels out" if position == "open" else "",
                tag=tag,
            ),
            seen=True,
        )

    @rule(which=WHICH, result=strategies.sampled_from(["none", "present"]))
    def test_for_voltage(self, which: int, result: str) -> None:
        if row := self.one(which):
            self.test(row, result)

    @rule(which=WHICH, label=strategies.sampled_from(["G3", "G5"]), off=strategies.booleans())
    def move_a_ground(self, which: int, label: str, off: bool) -> None:
        if row := self.one(which):
            self.ground(row, label, off=off)

    @rule(which=WHICH, name=NAMES, off=strategies.booleans())
    def sign_somebody(self, which: int, name: str, off: bool) -> None:
        if row := self.one(which):
            self.sign(row, name, off=off)

    # What never happens.

    @invariant()
    def what_has_just_moved_was_allowed(self) -> None:
        """Every move that the new entries tell of is one of the transition table; no close was ordered on a
        tag, nothing released with people or grounds on.
        """
        for entry in LogEntry.objects.filter(number__gt=self.seen).order_by("number"):
            for kind, key, state in entry.data.get("changes", ()):
                if kind not in TRANSITIONS or state is None:
                    continue
                before = self.states.get((kind, key), "")
                assert before == state["state"] or (before, state["state"]) in TRANSITIONS[kind]
                self.states[kind, key] = state["state"]
                if before == state["state"]:
                    continue
                if kind == "step" and state["state"] == "given" and state["operation"] == "close":
                    assert not Tag.objects.filter(device=state["device_id"], off_at=None).exists()
                if kind == "clearance" and state["state"] == "released":
                    released = Clearance.objects.get(pk=key)
                    assert not released.sign_ons.filter(off_at=None).exists()
                    assert not released.ground_sets.filter(off_at=None).exists()
            self.seen = entry.number

    @invariant()
    def an_energized_zone_under_people_is_flagged(self) -> None:
        compiled = snapshot.compiled()
        state = trace(compiled, positions.open_phases())
        loud = {raised.flag.clearance for raised in flags.current() if raised.flag.level == "now"}
        for row in Clearance.objects.filter(state=Clearance.State.ACCEPTED):
            answers = {state.answer(*point) for point in facts.limits_of(row, compiled)}
            if answers - {Answer.DEENERGIZED}:
                assert row.pk in loud, f"clearance {row.pk}: {answers}"

    @invariant()
    def the_log_replayed_is_what_stands(self) -> None:
        assert list(log.faults()) == []
        assert list(replay.differences()) == []


def test_no_day_does_what_may_never_happen(stages: Stages) -> None:
    Day.stages = stages
    run_state_machine_as_test(Day, settings=DAYS)
