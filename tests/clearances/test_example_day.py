"""The example's day from 7:30 to 15:10 on the board: three clearances of two foremen, two stages of a job, a
network that is left otherwise than it was found. Both orders of the day are played, step by step.
"""

import datetime
from collections import Counter
from typing import Any, ClassVar

from django.utils import timezone

from circuits import positions, snapshot
from circuits.core.parallels import parallels
from circuits.core.trace import trace
from clearances import at_device, facts, flags, log, replay
from clearances.models import ChangeSet, Clearance, Interruption, Step
from clearances.services import asking, changes, giving, on_the_line, orders, switching, way_back
from clearances.services.verb import Outcome
from tests.cast import Cast, done
from tests.core.test_asleft import AT_11_20
from tests.core.test_example import SECTION

from .plays import SecondStage
from .said import codes, texts

HALF_208 = {"T-210": 8, "T-212": 11, "T-213": 4}
BACK_AT_11_46 = {"T-218": 1, "T-219": 10, "T-220": 19}


class Span(Cast):
    """Clearance 42: Bo's crew replaces the tap span P-207 to P-208, opened at both of its ends."""

    points: ClassVar[tuple[str, ...]] = ("J-207", "C-208")
    crew: ClassVar[tuple[str, ...]] = ("Max Lindner", "Kim Osei")


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


def out() -> dict[str, int]:
    """How many customers of the section are out, by transformer."""
    rows = Interruption.objects.filter(on_at=None, premises__transformer__in=SECTION)
    return dict(Counter(rows.values_list("premises__transformer", flat=True)))


def steps_left(clearance: Clearance) -> list[tuple[str, str, str]]:
    rows = Step.objects.filter(order=clearance.pk, state=Step.State.WAITING).order_by("place")
    return list(rows.values_list("operation", "device", "phases"))


def do(cast: Cast, clearance: Clearance, device: str) -> None:
    """Every step at a device that waits is given and reported, in the order's own turn."""
    for step in Step.objects.filter(order=clearance.pk, state=Step.State.WAITING).order_by("place"):
        if step.device_id != device:
            break
        cast.call_roll(step)
        cast.give_step(clearance, step)
        cast.report_step(step)


def give(cast: Cast, clearance: Clearance) -> Outcome:
    who, version = cast.who(cast.dana), fresh(clearance).version
    return giving.give_clearance(who, clearance=clearance.pk, version=version)


def by_operator(cast: Cast, clearance: Clearance, verb: Any, **more: Any) -> Outcome:
    who, version = cast.who(cast.dana), fresh(clearance).version
    outcome: Outcome = verb(who, clearance=clearance.pk, version=version, **more)
    return outcome


def test_the_day(cast: Cast) -> None:
    now = timezone.now()
    half_past_seven = now - datetime.timedelta(minutes=30)

    # D-6 to D-1. Bo has asked for 42, promised 15:00; Ana asks for 41 in two stages.
    span, second = Span.present(), SecondStage.present()
    c42 = span.asked(
        holder=cast.bo, from_pole="P-207", to_pole="P-208", work="Replace the tap span", start=half_past_seven
    )
    later = c42.promised_end + datetime.timedelta(hours=3)
    c42 = span.bring(c42, "checked")
    assert c42.affected.count() == 0  # this morning the section hangs on C-221 alone
    done(asking.move_promised_end(cast.who(cast.bo), clearance=c42.pk, promised_end=later, why="rock"))
    c41 = cast.asked(start=half_past_seven)
    c43 = second.follow(c41)
    for change, given in AT_11_20:
        planner = cast.who(cast.dana)
        done(changes.plan_change(planner, clearance=c41.pk, change=change, given=dict(given)))
    c41 = cast.bring(fresh(c41), "checked")
    # The notices: 30 + 9 of the C-221 half are back when their stages are, 23 when Bo's work is done too.
    c41 = cast.bring(c41, "told", "checked")
    hours = Counter(c41.affected.values_list("premises__transformer", "back_by"))
    assert {name: hour for name, hour in hours if name in HALF_208} == dict.fromkeys(HALF_208, later)
    assert {name: hour for name, hour in hours if name in BACK_AT_11_46} == dict.fromkeys(
        BACK_AT_11_46, c41.promised_end
    )

    # 7:30. 42 is given and accepted; nobody is out.
    c42 = span.bring(fresh(c42), "accepted", "checked")
    assert out() == {}

    # 8:34. C-208 is checked open, a second tag beside Bo's. 1 of 2: the giving names the way by C-221.
    do(cast, c41, "C-208")
    tags = facts.live_tags().filter(device="C-208").order_by("clearance")
    assert [tag.number for tag in tags] == [f"{c42.pk}-2", f"{c41.pk}-1"]
    assert any("C-221" in text for text in texts(give(cast, c41)))
    assert out() == {}

    # 8:41 to 8:44. C-221, phase by phase: A leaves T-210's 8 and the pump station on a voltage not known.
    (step,) = Step.objects.filter(order=c41.pk, device="C-221", half="isolate")
    cast.give_step(c41, step)
    cast.report_step(step, "A", tag=False)
    assert out() == {"T-210": 8, "T-218": 1}
    one = Interruption.objects.filter(premises__transformer="T-210")[0].premises_id
    state = trace(snapshot.compiled(), positions.open_phases()).supply_of(one)
    assert state
    assert not state.out
    cast.report_step(step, "B", tag=False)
    cast.report_step(step, "C")
    assert sum(out().values()) == 62

    # 8:46. The two customers' disconnects; then nothing is left that may feed it.
    do(cast, c41, "D-219")
    do(cast, c41, "D-212")
    # 8:58 to 9:12. Given, accepted, tested, grounded on both sides of the span, people signed on.
    done(give(cast, c41))
    c41 = cast.bring(fresh(c41), "grounded", "given")
    ground: dict[str, Any] = {"label": "G7", "pole": "P-217", "phases": "ABC", "done_at": timezone.now()}
    done(on_the_line.ground_on(cast.who(cast.ana), clearance=c41.pk, **ground))
    c41 = cast.bring(c41, "working", "grounded")

    # 11:20. N-15 stands open, T-217's tap is on C; by Ana's word that is the network.
    change_set = ChangeSet.objects.get()
    done(changes.confirm_change(cast.who(cast.ana), change_set=change_set.pk, done_at=timezone.now()))
    device = snapshot.compiled().network.device
    assert (device["N-15"].closed, device["F-217"].phases) == ("", "C")
    assert facts.paths(c41, {"C-208": "ABC", "C-221": "ABC", "D-219": "B", "D-212": "B"}) == ()

    # 11:31. The order of stage 2 is written on this network: F-217 and the tie, tags of 43, before 41 goes.
    assert "next_stage_unprotected" in codes(release(cast, c41))
    c43 = second.bring(fresh(c43), "isolated")
    tags = facts.live_tags().filter(clearance=c43).order_by("number")
    assert [(tag.number, tag.phases) for tag in tags] == [(f"{c43.pk}-1", "C"), (f"{c43.pk}-2", "B")]
    assert "earlier_stage_out" in codes(give(cast, c43))

    # 11:38. Grounds off, people off, 41 released. 11:40. 43 given and accepted.
    cast.leave(c41)
    done(release(cast, c41))
    done(give(cast, c43))
    c43 = second.bring(fresh(c43), "accepted", "given")

    # The restore half of the morning closes C-208, which Bo holds. Written again it leaves it to him.
    (blocked,) = Step.objects.filter(order=c41.pk, device="C-208", operation="close")
    held = f"tag {c42.pk}-2 is on it (clearance {c42.pk}, {cast.bo}"
    assert any(held in text for text in texts(by_step(cast, blocked)))
    done(by_operator(cast, c41, way_back.write_way_back, why="N-15 is set"))
    done(orders.check_order(cast.who(cast.ines), clearance=c41.pk, version=fresh(c41).version))

    # 11:41, 11:46. Tags off, C-221 in, once Ana and Bo have said yes: 30 on, 32 out.
    assert {operation for operation, device, _ in steps_left(c41) if device == "C-208"} == {"remove_tag"}
    while steps_left(c41):
        do(cast, c41, steps_left(c41)[0][1])
    assert out() == HALF_208 | {"T-217": 9}
    assert [tag.number for tag in facts.live_tags().filter(device="C-208")] == [f"{c42.pk}-2"]
    assert fresh(c41).order.state == "finished"

    # 14:10. Stage 2 done, 43 released; T-217 goes in, the tie stays open for good.
    second.release(c43)
    assert ("close", "S-217", "B") not in steps_left(c43)
    while steps_left(c43):
        do(second, c43, steps_left(c43)[0][1])
    assert out() == HALF_208
    joins = at_device.joins_of_closing("S-217", "B")
    assert joins == ("unlike phases are joined by S-217: phase C and phase B",)

    # 14:55. Bo releases 42; J-207 made up, then C-208: all 62 are on.
    span.release(fresh(c42))
    while steps_left(c42):
        do(span, c42, steps_left(c42)[0][1])
    assert out() == {}
    assert parallels(trace(snapshot.compiled(), positions.open_phases())).sentences == ()

    # 15:10. Two radial taps, one job finished and the other; the log replayed is what stands.
    assert {fresh(one).job.state for one in (c41, c42, c43)} == {"finished"}
    assert not [one.flag.text for one in flags.current() if one.flag.level == "now"]
    assert [*log.faults(), *replay.differences()] == []


def release(cast: Cast, clearance: Clearance) -> Outcome:
    said: dict[str, Any] = {"clearance": clearance.pk, "version": None, "told_everyone": True}
    return giving.release_clearance(cast.who(clearance.holder), all_off=True, **said)


def by_step(cast: Cast, step: Step) -> Outcome:
    who, version = cast.who(cast.dana), Clearance.objects.get(pk=step.order_id).version
    return switching.give_step(who, step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True)
