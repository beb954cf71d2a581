"""What is no clearance, in a random day: hot-line holds, customers' do-not-operates, field clearances."""

from typing import Any

from hypothesis import strategies
from hypothesis.stateful import precondition, rule

from circuits.models import Device
from clearances.models import DoNotOperate, FieldClearance, HotLineHold
from clearances.services import do_not_operates, field_clearances, holds, reporting

from .ordering import HOLDERS, PEOPLE, RIGHT, WHICH, Ordering, is_there

# Where a hold is asked for and for which work: on its way, not on it, where nothing recloses.
HELD = strategies.sampled_from(
    [
        ("R-31", "P-278", "P-279"),
        ("R-31", "P-282", "P-282"),
        ("B-14", "P-278", "P-279"),
        ("B-12", "P-209", "P-210"),
        ("B-12", "P-278", "P-279"),
        ("C-208", "P-209", "P-210"),
    ]
)
OPENED = strategies.sampled_from(["F-275", "C-208", "C-233", "F-217", "F-210", "F-218"])
OUT = ("given", "accepted")


class Beside(Ordering):
    def hold(self, which: int) -> HotLineHold | None:
        rows = list(HotLineHold.objects.order_by("pk"))
        return rows[which % len(rows)] if rows else None

    @rule(where=HELD, holder=HOLDERS, bring=strategies.sampled_from([4, 4, 0, 1, 2, 3]))
    @precondition(lambda self: HotLineHold.objects.filter(state__in=OUT).count() < 3)
    def ask_for_hold(self, where: tuple[str, str, str], holder: str, bring: int) -> None:
        """Asked for, and brought as far as `bring`: reclosing off, the tag hung, given, accepted."""
        asked = self.did(
            holds.ask_for_hold(
                self.who(holder),
                device=where[0],
                from_pole=where[1],
                to_pole=where[2],
                phases="ABC",
                work="gloved",
                crew="line 3",
            )
        )
        if not (entry := getattr(asked, "entry", None)):
            return
        hold = HotLineHold.objects.get(pk=entry.data["hold"])
        for said in ("reclose_off", "tag_hung")[:bring]:
            self.say_of(hold, said)
        if bring > 2:
            self.did(holds.give_hold(self.who("dana"), hold=hold.pk))
        if bring > 3:
            self.did(holds.accept_hold(self.who(holder), hold=hold.pk, read_back=hold.place_words))

    def say_of(self, hold: HotLineHold, said: str) -> None:
        done_at = self.clock()
        self.did(holds.report_hold(self.who("sal"), hold=hold.pk, said=said, done_at=done_at), seen=True)

    @rule(which=WHICH, said=strategies.sampled_from(holds.SEEN))
    @is_there("hold")
    def report_hold(self, which: int, said: str) -> None:
        if hold := self.hold(which):
            self.say_of(hold, said)

    @rule(which=WHICH, said=strategies.sampled_from(holds.ANSWERS), by=PEOPLE)
    @is_there("hold")
    def answer_hold(self, which: int, said: str, by: str) -> None:
        if hold := self.hold(which):
            holders = by in (RIGHT, hold.holder.username)
            answer: dict[str, Any] = {"hold": hold.pk, "said": said, "done_at": self.clock()}
            self.did(holds.answer_hold(self.by(by, hold.holder.username), **answer), seen=holders)

    @rule(which=WHICH, act=strategies.sampled_from(["give", "accept", "withdraw", "give back"]), by=PEOPLE)
    @is_there("hold")
    def move_hold(self, which: int, act: str, by: str) -> None:
        if hold := self.hold(which):
            who = self.by(by, "dana" if act in ("give", "withdraw") else hold.holder.username)
            self.did(
                {
                    "give": lambda: holds.give_hold(who, hold=hold.pk),
                    "accept": lambda: holds.accept_hold(who, hold=hold.pk, read_back="R-31"),
                    "withdraw": lambda: holds.withdraw_hold(who, hold=hold.pk, why="rain"),
                    "give back": lambda: holds.give_back_hold(who, hold=hold.pk, told_everyone=True),
                }[act]()
            )

    def open_first(self, device: str) -> str:
        """Somebody opens it and says so; its phases."""
        phases = str(Device.objects.values_list("phases", flat=True).get(pk=device))
        self.did(
            reporting.report_position(
                self.who("sal"),
                device=device,
                phases=phases,
                position="open",
                done_at=self.clock(),
                made_inoperable="barrels out, secured",
            ),
            seen=True,
        )
        return phases

    @rule(device=OPENED, first=strategies.booleans())
    @precondition(lambda self: DoNotOperate.objects.filter(state="given").count() < 3)
    def keep_open_for_a_customer(self, device: str, first: bool) -> None:
        phases = self.open_first(device) if first else "B"
        self.did(
            do_not_operates.give_do_not_operate(
                self.who("dana"),
                device=device,
                phases=phases,
                name="Iris Novak",
                employer="Novak Electric",
                phone="555-0177",
                work="main breaker",
            )
        )

    @rule(which=WHICH, named=strategies.booleans(), met=strategies.booleans())
    @is_there("do not operate")
    def give_back_what_was_kept(self, which: int, named: bool, met: bool) -> None:
        if rows := list(DoNotOperate.objects.order_by("pk")):
            self.did(
                do_not_operates.give_back_do_not_operate(
                    self.who("dana"),
                    do_not_operate=rows[which % len(rows)].pk,
                    given_back_by="Iris Novak" if named else "Somebody",
                    met_by=self.cast.sal if met else None,
                    met_where="at the gate" if met else "",
                )
            )

    @rule(device=OPENED, holder=HOLDERS, first=strategies.booleans(), in_sight=strategies.booleans())
    @precondition(lambda self: FieldClearance.objects.filter(state="on").count() < 3)
    def work_behind_own_disconnect(self, device: str, holder: str, first: bool, in_sight: bool) -> None:
        phases = self.open_first(device) if first else "B"
        self.did(
            field_clearances.start_field_clearance(
                self.who(holder),
                device=device,
                phases=phases,
                work="change the transformer",
                crew="line 1",
                in_sight=in_sight or first,
                one_crew=True,
                done_at=self.clock(),
            )
        )

    @rule(which=WHICH, by=PEOPLE, all_off=strategies.booleans())
    @is_there("field clearance")
    def end_field_clearance(self, which: int, by: str, all_off: bool) -> None:
        if rows := list(FieldClearance.objects.order_by("pk")):
            row = rows[which % len(rows)]
            end: dict[str, Any] = {"field_clearance": row.pk, "all_off": all_off, "done_at": self.clock()}
            self.did(field_clearances.end_field_clearance(self.by(by, row.holder.username), **end))
