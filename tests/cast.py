"""The people of the demo in a play that every test can stage: one planned job, brought as far as wanted.

The job is the one of the demo network: work between P-213 and P-218, which feeder 12 reaches from both ends.
Every move goes through the board's own verbs, so a stage that can't be reached fails there and not later.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Self
from uuid import uuid4

from django.utils import timezone

from clearances import facts, rollcall
from clearances.models import Clearance, Person, Step
from clearances.services import (
    asking,
    customers,
    giving,
    on_the_line,
    orders,
    planning,
    reporting,
    switching,
)
from clearances.services import rollcall as roll_calls
from clearances.services.verb import Done, Outcome, Who
from tests.stages import Stages

# The points of the job in the order in which they are opened: both ends of the section, then the machines.
POINTS = ("C-208", "C-221", "D-219", "D-212")

# How far a clearance can be brought, in order.
STAGES = (
    "asked",
    "points chosen",
    "order written",
    "checked",
    "told",
    "isolated",
    "given",
    "accepted",
    "tested",
    "grounded",
    "working",
    "people and grounds off",
    "released",
    "restored",
)


def done(outcome: Outcome) -> Done:
    """The outcome, which has to be that it was done."""
    assert isinstance(outcome, Done), outcome
    return outcome


@dataclass
class Cast:
    """The people by first name, and what they do."""

    dana: Person
    ines: Person
    ana: Person
    bo: Person
    tom: Person
    sal: Person
    mira: Person
    jon: Person
    ruth: Person
    points: ClassVar[tuple[str, ...]] = POINTS
    crew: ClassVar[tuple[str, ...]] = ("Sal Moreno", "Lee Abara")
    stages: ClassVar[Stages | None] = None

    @classmethod
    def present(cls) -> Self:
        """The cast as it stands in the database, after `load_demo`."""
        names = ("dana", "ines", "ana", "bo", "tom", "sal", "mira", "jon", "ruth")
        return cls(**{name: Person.objects.get(username=name) for name in names})

    def who(self, by: Person, speaking_for: Person | None = None, how: str = "board") -> Who:
        return Who(by, speaking_for, how, uuid4())

    def asked(
        self,
        *,
        holder: Person | None = None,
        from_pole: str = "P-213",
        to_pole: str = "P-218",
        phases: str = "ABC",
        work: str = "Set gang switch N-15 in the span P-214 to P-215",
        start: datetime.datetime | None = None,
        alternate: Person | None = None,
        transformer: str = "",
    ) -> Clearance:
        """A request, for a window of four hours that has begun, with the first one's, unless another `start`
        is named.
        """
        first = Clearance.objects.order_by("pk").first()
        soon = first.window_start if first else timezone.now() - datetime.timedelta(minutes=30)
        begins = start or soon
        entry = done(
            asking.ask_for_clearance(
                self.who(holder or self.ana),
                from_pole=from_pole,
                to_pole=to_pole,
                phases=phases,
                work=work,
                reason_for_customers="new switch on the line",
                crew="line 1",
                window_start=begins,
                promised_end=begins + datetime.timedelta(hours=4),
                latest_finish=begins + datetime.timedelta(hours=5),
                recall_minutes=20,
                alternate=alternate,
                transformer=transformer,
                own_clearance=True,
            )
        ).entry
        assert entry.clearance
        return entry.clearance

    def bring(self, clearance: Clearance, stage: str, since: str = "asked") -> Clearance:
        """Bring a clearance from one of `STAGES` to a later one; the row as it then stands."""
        moves: dict[str, Callable[[Clearance], None]] = {
            "points chosen": self.choose,
            "order written": self.write,
            "checked": self.check,
            "told": self.tell,
            "isolated": self.isolate,
            "given": self.give,
            "accepted": self.accept,
            "tested": self.test,
            "grounded": self.ground,
            "working": self.sign_on,
            "people and grounds off": self.leave,
            "released": self.release,
            "restored": self.restore,
        }
        for name in STAGES[STAGES.index(since) + 1 : STAGES.index(stage) + 1]:
            moves[name](clearance)
            clearance = Clearance.objects.get(pk=clearance.pk)
        return clearance

    def job(self, stage: str = "asked", *, holder: Person | None = None) -> Clearance:
        """The demo's job, brought to `stage`; where a test begins with that, as it stands ready."""
        if holder or self.stages is None or not self.stages.untouched:
            return self.bring(self.asked(holder=holder), stage)

        def ready(stage: str) -> str:
            return f"{type(self).__name__} {self.points}: {stage}"

        if ready(stage) not in self.stages:
            earlier = [one for one in STAGES[: STAGES.index(stage)] if ready(one) in self.stages]
            if earlier:
                since = earlier[-1]
                self.stages.make(
                    ready(stage), ready(since), lambda: self.bring(Clearance.objects.get(), stage, since)
                )
            else:
                self.stages.make(ready(stage), "the demo", lambda: self.bring(self.asked(), stage))
        self.stages.enter(ready(stage))
        return Clearance.objects.get()

    def choose(self, clearance: Clearance) -> None:
        who = self.who(self.dana)
        done(
            planning.choose_points(
                who, clearance=clearance.pk, version=clearance.version, devices=list(self.points)
            )
        )

    def write(self, clearance: Clearance) -> None:
        who = self.who(self.dana)
        done(orders.write_order(who, clearance=clearance.pk, version=clearance.version))

    def check(self, clearance: Clearance) -> None:
        who = self.who(self.ines)
        done(orders.check_order(who, clearance=clearance.pk, version=clearance.version))

    def tell(self, clearance: Clearance) -> None:
        """Every customer is told, and whoever lives on life-support has answered."""
        if count := clearance.affected.count():
            done(customers.tell_customers(self.who(self.dana), clearance=clearance.pk, count=count))
        for row in clearance.affected.filter(care="life_support"):
            done(
                customers.record_answer(
                    self.who(self.mira),
                    clearance=clearance.pk,
                    premises=row.premises_id,
                    answered_by="the daughter",
                    plan="stays with her sister until the evening",
                )
            )

    def give_step(self, clearance: Clearance, step: Step) -> None:
        version = Clearance.objects.values_list("version", flat=True).get(pk=clearance.pk)
        done(
            switching.give_step(
                self.who(self.dana),
                step=step.pk,
                version=version,
                given_to="Sal Moreno",
                repeated_back=True,
            )
        )

    def report_step(self, step: Step, phases: str = "", *, tag: bool = True) -> None:
        """`step` is reported by Sal, whole unless `phases` says less; its tag with it."""
        opening = step.half == Step.Half.ISOLATE and step.point_id is not None
        done(
            reporting.report_step(
                self.who(self.sal),
                step=step.pk,
                phases=phases or step.phases,
                done_at=timezone.now(),
                made_inoperable="barrels out, secured" if opening else "",
                tag=tag and (opening or step.operation == Step.Operation.REMOVE_TAG),
            )
        )

    def steps(self, clearance: Clearance, half: str) -> list[Step]:
        return list(Step.objects.filter(order__clearance=clearance, half=half).order_by("place"))

    def isolate(self, clearance: Clearance) -> None:
        for step in self.steps(clearance, Step.Half.ISOLATE):
            self.give_step(clearance, step)
            self.report_step(step)

    def give(self, clearance: Clearance) -> None:
        done(giving.give_clearance(self.who(self.dana), clearance=clearance.pk, version=clearance.version))

    def accept(self, clearance: Clearance) -> None:
        words = f"{clearance.limits_words} Points {', '.join(self.points)}."
        who = self.who(clearance.holder)
        done(giving.accept_clearance(who, clearance=clearance.pk, read_back=words))

    def test(self, clearance: Clearance, result: str = "none") -> None:
        done(
            on_the_line.report_test(
                self.who(clearance.holder),
                clearance=clearance.pk,
                pole="P-214",
                phases="ABC",
                result=result,
                instrument="contact tester 12",
                tester_proven=True,
                done_at=timezone.now(),
            )
        )

    def ground(self, clearance: Clearance) -> None:
        for label, pole in (("G3", "P-214"), ("G5", "P-215")):
            done(
                on_the_line.ground_on(
                    self.who(clearance.holder),
                    clearance=clearance.pk,
                    label=label,
                    pole=pole,
                    phases="ABC",
                    done_at=timezone.now(),
                )
            )

    def sign_on(self, clearance: Clearance) -> None:
        for name in self.crew:
            who = self.who(clearance.holder)
            done(on_the_line.sign_on(who, clearance=clearance.pk, name=name, done_at=timezone.now()))

    def leave(self, clearance: Clearance) -> None:
        """All ground sets off, then all people."""
        who = self.who
        for ground in clearance.ground_sets.filter(off_at=None):
            done(
                on_the_line.ground_off(
                    who(clearance.holder),
                    clearance=clearance.pk,
                    label=ground.label,
                    done_at=timezone.now(),
                )
            )
        for person in clearance.sign_ons.filter(off_at=None):
            done(
                on_the_line.sign_off(
                    who(clearance.holder), clearance=clearance.pk, name=person.name, done_at=timezone.now()
                )
            )

    def release(self, clearance: Clearance) -> None:
        done(
            giving.release_clearance(
                self.who(clearance.holder),
                clearance=clearance.pk,
                version=clearance.version,
                told_everyone=True,
                all_off=True,
            )
        )

    def call_roll(self, step: Step) -> None:
        """Whoever has to be asked before a close is asked, and says yes."""
        if step.operation != Step.Operation.CLOSE or not rollcall.silent(step):
            return
        done(roll_calls.call_roll(self.who(self.dana), step=step.pk))
        for call in rollcall.unanswered(step):
            holder = self.who(call.clearance.holder)
            done(roll_calls.answer_roll_call(holder, call=call.pk, agrees=True))

    def restore(self, clearance: Clearance) -> None:
        for step in self.steps(clearance, Step.Half.RESTORE):
            if step.state == Step.State.WAITING:
                self.call_roll(step)
                self.give_step(clearance, step)
                self.report_step(step)
        assert not facts.live_tags().filter(clearance=clearance).exists()
