"""Days of right and wrong acts in any order: whatever people do and report, some things never happen.

No device is ordered closed while a tag hangs on it, opened or closed past the holder of a hot-line hold or
past whoever else has it; no tie of unlike phases is joined by an order; nobody releases with people or
grounds on; no energized zone lies under an accepted clearance without a flag that says so; no customer is
promised an hour at which a clearance keeps the power away; the network in use is the one that was confirmed
as left; the log replayed is what the tables say, and its moves are those of the transition table; no
observation is refused, and none that waited in a telephone binds anything.
"""

import logging
from unittest import mock

from hypothesis import event, strategies
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from circuits import positions, snapshot
from circuits.core.trace import Answer, trace
from clearances import facts, flags, log, replay
from clearances.models import Clearance
from tests.cast import Cast
from tests.clearances.beside import Elm
from tests.clearances.looking import look
from tests.stages import Stages

from .beside import Beside
from .conftest import DAYS
from .left import Left
from .never import Never
from .ordering import A_CLEARANCE, WHICH
from .promised import never_too_early
from .queued import Queued
from .seen import Seen

log_of_tests = logging.getLogger(__name__)
# How far whose job is when a day begins; a stage is played once a process, so a sample has fewer.
BEGINS = (
    (Cast, ""),
    (Cast, "accepted"),
    (Elm, "told"),
    (Cast, "checked"),
    (Cast, "released"),
    (Elm, "accepted"),
    (Elm, "released"),
)[: 3 if DAYS.max_examples < 20 else None]


class Day(Never, Beside, Seen, Queued, Left, RuleBasedStateMachine):
    """The board from the demo's first minute on, or from later in its job; `stages` is set by the test."""

    stages: Stages

    def __init__(self) -> None:
        super().__init__()
        self.stages.enter("the demo")
        self.hints = mock.patch("notifications.wakeup.hint")
        self.hints.start()
        # A day that was undone has left its answers here, under numbers that the next one has again.
        flags._leaves_fed.cache_clear()
        flags._reached.cache_clear()
        self.cast = Cast.present()
        self.begin()

    @initialize(begin=strategies.sampled_from(BEGINS))
    def begin_the_day(self, begin: tuple[type[Cast], str]) -> None:
        whose, stage = begin
        if stage:
            whose.present().job(stage)
            self.begin()

    @rule(which=WHICH, page=strategies.sampled_from(["", "order/", "sheet/"]))
    @A_CLEARANCE
    def read_the_board(self, which: int, page: str) -> None:
        """Whatever stands on it, the desk and the field can read it, and a paper can be printed."""
        row = self.one(which)
        assert row
        assert look(self.cast.dana, f"/desk/clearances/{row.pk}/{page}").status == 200
        assert look(self.cast.dana, "/desk/").status == 200
        assert look(row.holder, f"/field/clearances/{row.pk}/").status == 200

    def teardown(self) -> None:
        for kind, state in sorted({(kind, state) for (kind, _), state in self.states.items()}):
            event(f"a day ended with a {kind} {state}")
        self.hints.stop()
        self.stages.leave()

    @invariant()
    def an_energized_zone_under_people_is_flagged(self) -> None:
        out = Clearance.objects.filter(state=Clearance.State.ACCEPTED)
        if not (rows := list(out.prefetch_related("limits"))):
            return
        compiled = snapshot.compiled()
        state = trace(compiled, positions.open_phases())
        fed = {
            row.pk
            for row in rows
            if {state.answer(*point) for point in facts.limits_of(row, compiled)} != {Answer.DEENERGIZED}
        }
        if fed:
            assert fed <= {raised.flag.clearance for raised in flags.current() if raised.flag.level == "now"}

    @invariant()
    def no_hour_is_promised_at_which_power_is_away(self) -> None:
        never_too_early()

    @invariant()
    def the_log_replayed_is_what_stands(self) -> None:
        assert list(log.faults()) == []
        assert list(replay.differences()) == []


def test_no_day_does_what_may_never_happen(stages: Stages) -> None:
    Day.stages = stages
    run_state_machine_as_test(Day, settings=DAYS)
    log_of_tests.info("%d days: %s", DAYS.max_examples, dict(Day.acts.most_common()))
