"""What a job leaves changed on the network, in a random day: planned, built as planned or not, settled."""

import datetime
from typing import Any

from django.utils import timezone
from hypothesis import strategies
from hypothesis.stateful import rule

from clearances.models import ChangeSet
from clearances.services import changes
from clearances.services.verb import Outcome, Who

from .ordering import A_CLEARANCE, PEOPLE, WHICH, Ordering, is_there

# In the order in which a day comes to them: one that never breaks anything, those of the example (after the
# tie normally stands open its transformer may move), a jumper past the points, and what is refused.
PLANS: tuple[tuple[str, dict[str, str]], ...] = (
    ("change_link", {"device": "C-233", "link": "25K"}),
    ("normal_position", {"device": "S-217", "position": "open"}),
    ("move_transformer", {"transformer": "T-217", "phases": "C"}),
    ("set_switch", {"line": "L-214-215", "device": "N-15"}),
    (
        "temporary_jumper",
        {"device": "J-9", "from_node": "P-207", "to_node": "P-216", "phases": "A", "owner": "line 3"},
    ),
    ("move_transformer", {"transformer": "T-292", "phases": "B", "at_node": "P-216"}),
    ("remove_device", {"device": "C-208"}),
    ("remove_device", {"device": "J-9"}),
)


class Left(Ordering):
    def change(self, which: int) -> ChangeSet | None:
        rows = list(ChangeSet.objects.order_by("pk"))
        return rows[which % len(rows)] if rows else None

    def plan(self, row: Any, who: Who, plan: tuple[str, dict[str, str]]) -> Outcome:
        until = timezone.now() + datetime.timedelta(hours=2)
        until_then = {"until": until} if plan[0] == "temporary_jumper" else {}
        return self.did(
            changes.plan_change(who, clearance=row.pk, change=plan[0], given=plan[1], **until_then)
        )

    @rule(which=WHICH, plan=strategies.sampled_from(PLANS), by=PEOPLE)
    @A_CLEARANCE
    def plan_a_change(self, which: int, plan: tuple[str, dict[str, str]], by: str) -> None:
        if row := self.one(which):
            self.plan(row, self.by(by, row.holder.username), plan)

    @rule(which=WHICH, tie_first=strategies.booleans())
    @A_CLEARANCE
    def plan_the_example(self, which: int, tie_first: bool) -> None:
        """T-217 moves to phase C, and its tie stands open from then on."""
        if row := self.one(which):
            for plan in PLANS[1:3] if tie_first else PLANS[2:3]:
                self.plan(row, self.who("dana"), plan)

    @rule(
        which=WHICH,
        left=strategies.sampled_from(["", "1", "2"]),
        otherwise=strategies.sampled_from(["", "", "on the other side of the pole"]),
    )
    @is_there("change")
    def confirm_it(self, which: int, left: str, otherwise: str) -> None:
        """By its holder: never refused while something of it was built."""
        row = self.change(which)
        if row is None:
            return
        built = len(row.planned) - (left.isdigit() and int(left) <= len(row.planned))
        self.did(
            changes.confirm_change(
                self.who(row.clearance.holder.username),
                change_set=row.pk,
                done_at=self.clock(),
                not_built=[left] if left else [],
                differently=otherwise,
            ),
            seen=row.state == ChangeSet.State.PLANNED and bool(built or otherwise),
        )

    @rule(which=WHICH, by=PEOPLE, not_done=strategies.booleans())
    @is_there("change")
    def confirm_it_in_any_name(self, which: int, by: str, not_done: bool) -> None:
        if row := self.change(which):
            who = self.by(by, row.clearance.holder.username)
            if not_done:
                self.did(changes.mark_not_done(who, change_set=row.pk, why="rain"))
            else:
                self.did(changes.confirm_change(who, change_set=row.pk, done_at=self.clock()))

    @rule(
        which=WHICH,
        act=strategies.sampled_from(["settle", "survey", "withdraw"]),
        right=strategies.booleans(),
    )
    @is_there("change")
    def settle_it(self, which: int, act: str, right: bool) -> None:
        if row := self.change(which):
            verbs: dict[str, Any] = {
                "settle": (changes.settle_change, "dana"),
                "survey": (changes.survey_change, "jon"),
                "withdraw": (changes.withdraw_change, "jon"),
            }
            verb, by = verbs[act]
            self.did(verb(self.who(by if right else "sal"), change_set=row.pk, why="looked at"))
