"""Scenarios in which the field is not as recorded: given, when, then. The numbers are those of the list that
this board was designed by; what each asks for is said here.
"""

import datetime
from typing import Any

from django.utils import timezone

from circuits import positions
from clearances import facts
from clearances.models import Blow, Clearance, GroundSet, Interruption, Step, SwitchingOrder, Trouble
from clearances.services import giving, on_the_line, reporting, seen, switching
from clearances.services.verb import Done, Outcome
from tests.cast import Cast, done

from .plays import Tap
from .said import codes, texts
from .sql import GIVE_STEP, refused


def give(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=step.order_id).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def resume(cast: Cast, clearance: Clearance) -> None:
    version = Clearance.objects.get(pk=clearance.pk).version
    who = cast.who(cast.dana)
    done(switching.resume_order(who, clearance=clearance.pk, version=version, why="looked at"))


def order(clearance: Clearance) -> SwitchingOrder:
    return SwitchingOrder.objects.get(pk=clearance.pk)


def step_under_way(cast: Cast, place: int) -> tuple[Clearance, Step]:
    """The demo's job with its first `place` isolating steps reported but the last, which is given."""
    clearance = cast.job("told")
    steps = cast.steps(clearance, "isolate")[:place]
    for step in steps[:-1]:
        cast.give_step(clearance, step)
        cast.report_step(step)
    cast.give_step(clearance, steps[-1])
    return clearance, steps[-1]


def test_s32_found_in_another_position_than_recorded(tap: Tap) -> None:
    """Given the board says C-233 is closed, when Sal finds B open: the observation is kept beside the old
    belief, who hangs on it is out since then in a trouble, and the order that leans on it pauses until the
    operator has decided."""
    clearance = tap.job("told")
    before = timezone.now()
    assert "C-233" not in positions.open_phases()
    entry = done(
        reporting.report_position(
            tap.who(tap.sal), device="C-233", phases="B", position="open", done_at=timezone.now()
        )
    ).entry
    assert entry.irregular == "C-233 B found open, with no order behind it."
    assert (order(clearance).state, order(clearance).paused_why) == ("paused", entry.irregular)
    assert codes(give(tap, tap.steps(clearance, "isolate")[0])) == ["order_not_checked"]
    assert positions.open_phases()["C-233"] == "B"
    assert "C-233" not in positions.open_phases(at=before)
    out = Interruption.objects.filter(on_at=None, trouble=Trouble.objects.get())
    assert set(out.values_list("premises", flat=True)) == set(
        clearance.affected.values_list("premises", flat=True)
    )
    resume(tap, clearance)
    (step,) = tap.steps(clearance, "isolate")
    done(give(tap, step))
    tap.report_step(step)  # found open as it was, made inoperable and tagged
    step.refresh_from_db()
    assert step.state == "reported"


def test_the_wrong_device_operated(cast: Cast) -> None:
    """C-280 for C-208 (look-alike): the step stays out, C-280's customers are in a trouble, the order pauses
    and says what happened."""
    clearance, step = step_under_way(cast, 1)
    assert step.device_id == "C-208"
    entry = done(
        seen.report_wrong_device(
            cast.who(cast.sal), step=step.pk, device="C-280", phases="ABC", done_at=timezone.now()
        )
    ).entry
    assert entry.irregular == (
        "Step 1 is for C-208 A, B, C; C-280 A, B, C was opened instead. C-280 A, B, C found open, with no "
        "order behind it."
    )
    step.refresh_from_db()
    assert (step.state, step.reported_phases) == ("given", "")
    assert positions.open_phases()["C-280"] == "ABC"
    assert "C-208" not in positions.open_phases()
    trouble = Trouble.objects.get()
    assert trouble.device_id == "C-280"
    assert Interruption.objects.filter(trouble=trouble, on_at=None).count() > 0
    assert not Interruption.objects.filter(clearance=clearance).exists()
    assert order(clearance).state == "paused"
    assert codes(
        seen.report_wrong_device(
            cast.who(cast.sal), step=step.pk, device="C-999", phases="A", done_at=timezone.now()
        )
    ) == ["unknown_device"]


def test_done_out_of_order(cast: Cast) -> None:
    clearance = cast.job("told")
    first, second, *_ = cast.steps(clearance, "isolate")
    cast.report_step(second)
    entry = clearance.entries.order_by("-number")[0]
    assert entry.irregular.startswith("Done out of order: step 1 (C-208 A, B, C) comes first.")
    assert positions.open_phases()["C-221"] == "ABC"
    assert order(clearance).state == "paused"
    resume(cast, clearance)
    done(give(cast, first))


def test_s03_one_phase_stuck(cast: Cast) -> None:
    """Given C-221 is ordered open and C would not move: two of three, never «open»; the step is not whole."""
    clearance, step = step_under_way(cast, 2)
    cast.report_step(step, "AB")
    who = cast.who(cast.sal)
    entry = done(seen.report_stuck(who, step=step.pk, phases="C", done_at=timezone.now())).entry
    assert entry.irregular == "C-221 C would not open. It stands 2 of 3 open."
    step.refresh_from_db()
    assert (step.state, step.reported_phases) == ("given", "AB")
    assert order(clearance).state == "paused"
    point = next(point for point in facts.points_of(clearance) if point.device == "C-221")
    assert point.open == "AB"
    cast.report_step(step, "C")
    step.refresh_from_db()
    assert step.state == "reported"


def test_s35_a_ground_set_that_never_went_on(cast: Cast) -> None:
    """Given on G3, G5 and G7, and two reported off: the release names G7; «G7 never went on» is taken from
    the holder and a second crew member, and what was reported stays."""
    clearance = cast.job("working")
    ana: dict[str, Any] = {"clearance": clearance.pk, "label": "G7"}
    now = timezone.now()
    done(on_the_line.ground_on(cast.who(cast.ana), pole="P-217", phases="ABC", done_at=now, **ana))
    for label in ("G3", "G5"):
        done(
            on_the_line.ground_off(
                cast.who(cast.ana), clearance=clearance.pk, label=label, done_at=timezone.now()
            )
        )
    statements: dict[str, Any] = {"version": None, "told_everyone": True, "all_off": True}
    refusal = giving.release_clearance(cast.who(cast.ana), clearance=clearance.pk, **statements)
    assert "Ground set G7 at P-217 is on." in texts(refusal)

    alone = seen.ground_never_on(cast.who(cast.ana), second="Ana Duarte", **ana)
    assert codes(alone) == ["no_second_person"]
    assert codes(seen.ground_never_on(cast.who(cast.bo), second="Sal Moreno", **ana)) == ["not_the_holder"]
    assert codes(seen.ground_never_on(cast.who(cast.ana), second="Tom Weir", **ana)) == ["no_second_person"]
    entry = done(seen.ground_never_on(cast.who(cast.ana), second="Sal Moreno", **ana)).entry
    assert entry.irregular == "Ground set G7 at P-217 never went on, say Ana Duarte and Sal Moreno."
    ground = GroundSet.objects.get(label="G7")
    assert ground.on_at == now
    assert ground.off_by == "never on: Ana Duarte and Sal Moreno"
    assert ground.irregular.endswith(entry.irregular)
    assert codes(seen.ground_never_on(cast.who(cast.ana), second="Sal Moreno", **ana)) == ["set_not_on"]
    cast.leave(clearance)
    done(giving.release_clearance(cast.who(cast.ana), clearance=clearance.pk, **statements))


def closing(tap: Tap) -> tuple[Clearance, Step]:
    """The tap's job released and untagged, with its close given."""
    clearance = tap.job("released")
    remove, close = tap.steps(clearance, "restore")
    tap.give_step(clearance, remove)
    tap.report_step(remove)
    tap.give_step(clearance, close)
    return clearance, close


def blown(tap: Tap, closed: datetime.datetime, dropped: datetime.datetime) -> Done:
    return done(
        seen.report_blown(tap.who(tap.sal), device="C-233", phases="B", closed_at=closed, dropped_at=dropped)
    )


def test_s39_a_link_blows_on_the_restore(tap: Tap) -> None:
    """When C-233 closes and drops: «closed, dropped» are both kept, it stands open, its customers stay out
    and are told nothing else, and the order pauses with the trade's questions. A second blow wants a patrol.
    """
    clearance, close = closing(tap)
    before = set(Interruption.objects.values_list("pk", "on_at"))
    at = timezone.now()
    entry = blown(tap, at, at).entry
    hhmm = f"{timezone.localtime(at):%H:%M}"
    assert entry.irregular == (
        f"C-233 B closed {hhmm}, dropped {hhmm}: it did not hold. Cold load or fault? Was the line patrolled?"
    )
    assert positions.open_phases()["C-233"] == "B"
    assert set(Interruption.objects.values_list("pk", "on_at")) == before
    close.refresh_from_db()
    assert (close.state, order(clearance).state) == ("waiting", "paused")
    resume(tap, clearance)
    done(give(tap, close))

    entry = blown(tap, timezone.now(), timezone.now()).entry
    assert entry.irregular.endswith(
        "It has dropped 2 times since it last held: a patrol comes before the next close."
    )
    resume(tap, clearance)
    assert texts(give(tap, close)) == [
        "C-233 has dropped 2 times since it last held, and nobody has reported a patrol since."
    ]
    assert refused("patrol_after_second_blow", GIVE_STEP, tap.dana.pk, close.pk).startswith(
        "C-233 has dropped 2"
    )
    patrol: dict[str, Any] = {"device": "C-233", "found": "a limb at P-252, taken off"}
    done(seen.report_patrol(tap.who(tap.sal), done_at=timezone.now(), **patrol))
    done(give(tap, close))
    tap.report_step(close)
    assert not Interruption.objects.filter(on_at=None).exists()
    refused("history_is_kept", "DELETE FROM clearances_blow")
    refused("history_is_kept", "UPDATE clearances_patrol SET found = 'nothing'")


def test_a_close_that_held_ends_the_count(tap: Tap) -> None:
    clearance, close = closing(tap)
    at = timezone.now()
    blown(tap, at, at)
    resume(tap, clearance)
    done(give(tap, close))
    tap.report_step(close)
    from clearances import blows

    assert blows.standing("C-233") == (0, False)
    blown(tap, timezone.now(), timezone.now())
    assert blows.standing("C-233") == (1, False)
    assert (
        Trouble.objects.get().device_id == "C-233"
    )  # its order is finished: out again, with no work behind it


def test_a_blow_told_the_wrong_way_round_is_stored(tap: Tap) -> None:
    now = timezone.now()
    entry = blown(tap, now, now - datetime.timedelta(minutes=5)).entry
    assert "before it was closed." in entry.irregular
    one = Blow.objects.get()
    assert one.closed_at == one.dropped_at


def test_s54_open_it_now(cast: Cast) -> None:
    """Given a car on a pole: anyone qualified opens at once and tells the desk after, device and phases only.
    It is taken down with the time as now, and what it took out is a trouble."""
    clearance = cast.job("working")
    before = timezone.now()
    entry = done(seen.open_now(cast.who(cast.bo), device="B-12", phases="ABC")).entry
    assert entry.irregular == "B-12 A, B, C opened in an emergency, with no order behind it."
    assert entry.done_at
    assert before <= entry.done_at <= timezone.now()
    assert Trouble.objects.get().device_id == "B-12"
    assert Clearance.objects.get(pk=clearance.pk).state == "accepted"
    assert codes(seen.open_now(cast.who(cast.bo), device="B-99", phases="A")) == ["unknown_device"]
