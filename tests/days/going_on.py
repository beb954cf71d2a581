"""Going on with whatever stands on the board: the right next act of a clearance, whoever's it is."""

import datetime
from dataclasses import replace
from typing import Any

from django.utils import timezone

from clearances.models import ChangeSet, Clearance, HotLineHold, Person, Step
from clearances.services import (
    changes,
    customers,
    giving,
    holds,
    on_the_line,
    orders,
    planning,
    reporting,
    rollcall,
    seen,
    switching,
)
from clearances.services.phone import Phone
from clearances.services.verb import Done, Outcome, Refused, Stale, Who
from tests.cast import Cast

CHOICES = (
    ("C-208", "C-221", "D-219", "D-212"),
    ("J-207", "C-208"),
    ("C-233",),
    ("C-208",),
    ("R-31", "N-7"),
    ("F-217", "S-217"),
    ("B-14", "N-7"),
    ("B-14", "R-31"),  # with N-7 closed
)


class GoingOn:
    """The people of the demo, who go on by the verbs alone. `waited`: what they say now was said so long ago
    and has waited in a telephone, whose clock runs `ahead`. `entered`: when each thing of a kind was entered
    in the log, by its entries up to `looked_at`.
    """

    cast: Cast
    entered: dict[tuple[str, str], datetime.datetime]
    looked_at = 0
    waited = datetime.timedelta()
    ahead = datetime.timedelta()

    def who(self, name: str, for_name: str = "") -> Who:
        speaking_for = Person.objects.get(username=for_name) if for_name else None
        how = "radio" if for_name else "board"
        who = self.cast.who(Person.objects.get(username=name), speaking_for, how)
        if not self.waited:
            return who
        sent_at = timezone.now() + self.ahead
        return replace(who, phone=Phone(sent_at - self.waited, sent_at, 1))

    def clock(self) -> datetime.datetime:
        """When what is said now was done, by the speaker's clock."""
        return timezone.now() - self.waited + self.ahead

    def one(self, which: int) -> Clearance | None:
        rows = list(Clearance.objects.order_by("pk"))
        return rows[which % len(rows)] if rows else None

    def did(self, outcome: Outcome, *, seen: bool = False) -> Outcome:
        """`seen`: it was an observation, which is never refused for what it says."""
        assert isinstance(outcome, Done | Refused | Stale)
        if seen:
            assert isinstance(outcome, Done), outcome
        return outcome

    def give(self, row: Clearance, step: Step, by: str = "dana") -> Outcome:
        version = Clearance.objects.values_list("version", flat=True).get(pk=row.pk)
        return switching.give_step(
            self.who(by), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
        )

    def right(self, row: Clearance) -> None:
        dana, holder = self.who("dana"), self.who(row.holder.username)
        order = getattr(Clearance.objects.get(pk=row.pk), "order", None)
        at: dict[str, Any] = {"clearance": row.pk, "version": row.version}
        if order is None:
            if not row.points.exists():
                start = row.limits.exclude(node=None).values_list("node", flat=True)
                by_limits = {
                    "P-207j": CHOICES[1],
                    "P-251": CHOICES[2],
                    "P-282": CHOICES[4] if row.pk % 2 else CHOICES[6],
                    "P-217t": CHOICES[5],
                    "P-272": CHOICES[7],
                }
                devices = next((by_limits[node] for node in start if node in by_limits), CHOICES[0])
                closes = ["N-7"] if "P-272" in start else []
                self.did(planning.choose_points(dana, devices=list(devices), closes=closes, **at))
            else:
                self.did(orders.write_order(dana, **at))
        elif order.state == "draft":
            self.did(orders.check_order(self.who("ines"), **at))
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
                if isinstance(outcome, Refused):
                    self.clear_the_way(row, waiting, {no.code for no in outcome.refusals})
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

    def clear_the_way(self, row: Clearance, step: Step, codes: set[str]) -> None:
        """The way past that a refusal to give a step names."""
        at = self.clock()
        if "holder_silent" in codes:
            self.did(rollcall.call_roll(self.who("dana"), step=step.pk))
        if "patrol_first" in codes:
            self.did(seen.report_patrol(self.who("sal"), device=step.device_id, found="nothing", done_at=at))
        if codes & {"hold_not_asked", "hold_not_reached", "close_energizes_hold"}:
            word = "stands_down" if step.operation == Step.Operation.OPEN else "yes"
            for hold in HotLineHold.objects.filter(state__in=["given", "accepted"]):
                holder = self.who(hold.holder.username)
                self.did(holds.answer_hold(holder, hold=hold.pk, said=word, done_at=at), seen=True)
        if "change_not_confirmed" in codes:
            for change in ChangeSet.objects.filter(clearance__job=row.job_id):
                holder = self.who(change.clearance.holder.username)
                if change.state == ChangeSet.State.PLANNED:
                    self.did(changes.confirm_change(holder, change_set=change.pk, done_at=at), seen=True)
                elif change.unsettled:
                    self.did(changes.settle_change(self.who("dana"), change_set=change.pk, why="looked at"))

    def report(self, step: Step, phases: str, *, tag: bool) -> None:
        opening = step.half == "isolate"
        self.did(
            reporting.report_step(
                self.who("sal"),
                step=step.pk,
                phases=phases,
                done_at=self.clock(),
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
                    done_at=self.clock(),
                ),
                seen=True,
            )

    def ground(self, row: Clearance, label: str, *, off: bool) -> None:
        said: dict[str, Any] = {"clearance": row.pk, "label": label, "done_at": self.clock()}
        who = self.who("sal")
        if off:
            self.did(on_the_line.ground_off(who, **said), seen=True)
        else:
            self.did(on_the_line.ground_on(who, pole="P-214", phases="ABC", **said), seen=True)

    def sign(self, row: Clearance, name: str, *, off: bool) -> None:
        verb = on_the_line.sign_off if off else on_the_line.sign_on
        self.did(verb(self.who("sal"), clearance=row.pk, name=name, done_at=self.clock()), seen=True)
