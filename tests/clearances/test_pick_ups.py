"""Load picked up by a tie: feeder 14 is worked on between its breaker and its recloser, and what hangs beyond
the recloser comes over N-7 from feeder 12, which starts at the same station."""

import datetime
import html
import re

import pytest

from circuits import positions
from clearances import effects, flags, pickups
from clearances.models import Clearance, LogEntry, Step, SwitchingOrder
from clearances.others import in_the_way
from clearances.services import asking, calling_off, orders, planning, reporting, switching, way_back
from clearances.services.verb import Outcome
from notifications.models import Notice
from tests.cast import Cast, done

from .looking import signed_in, text_of
from .said import codes, texts
from .sql import GIVE_STEP, HANG, breaks, refused, typed

POINTS = ["B-14", "R-31"]
# What hangs between the two is out for the whole of the work; the rest of the feeder is beyond R-31.
OUT, FEEDER = 17, 79


def choose(cast: Cast, clearance: Clearance, **besides: list[str]) -> Outcome:
    version = fresh(clearance).version
    return planning.choose_points(
        cast.who(cast.dana),
        clearance=clearance.pk,
        version=version,
        devices=besides.pop("devices", POINTS),
        **besides,
    )


def fresh(clearance: Clearance) -> Clearance:
    return Clearance.objects.get(pk=clearance.pk)


@pytest.fixture
def job(cast: Cast) -> Clearance:
    """Asked for, with the points and the tie."""
    clearance = cast.asked(from_pole="P-272", to_pole="P-273")
    done(choose(cast, clearance, closes=["N-7"]))
    return fresh(clearance)


def written(clearance: Clearance, half: str) -> list[tuple[str, str, str]]:
    rows = Step.objects.filter(order=clearance.pk, half=half, state="waiting").select_related("point")
    return [(row.operation, row.device_id, row.tag_number) for row in rows.order_by("place")]


def move(cast: Cast, clearance: Clearance, device: str, half: str, before: int, by: str = "dana") -> Outcome:
    step = Step.objects.filter(order=clearance.pk, half=half, device=device).latest("place")
    who, version = cast.who(getattr(cast, by)), fresh(clearance).version
    return orders.move_step(who, step=step.pk, version=version, before=before)


def check(cast: Cast, clearance: Clearance) -> Outcome:
    version = fresh(clearance).version
    return orders.check_order(cast.who(cast.ines), clearance=clearance.pk, version=version)


def give(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = fresh(clearance).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def left_out(cast: Cast, clearance: Clearance, step: Step) -> LogEntry:
    who, version = cast.who(cast.dana), fresh(clearance).version
    outcome = switching.leave_step_out(who, step=step.pk, version=version, why="another order does it")
    return done(outcome).entry


def out_now() -> int:
    return len(effects.loses({"N-7": "ABC"}, positions.open_phases()))


def test_the_order_closes_the_tie_first_and_opens_it_last(cast: Cast, job: Clearance) -> None:
    cast.write(job)
    tags = [f"{job.pk}-1", f"{job.pk}-2"]
    assert written(job, "isolate") == [
        ("close", "N-7", ""),
        ("open", "B-14", tags[0]),
        ("open", "R-31", tags[1]),
    ]
    assert written(job, "restore") == [
        ("remove_tag", "R-31", tags[1]),
        ("close", "R-31", tags[1]),
        ("remove_tag", "B-14", tags[0]),
        ("close", "B-14", tags[0]),
        ("open", "N-7", ""),
    ]


def test_only_those_who_are_out_are_counted_and_told(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "told", since="points chosen")
    assert list(job.affected.values_list("briefly", flat=True)) == [False] * OUT
    assert pickups.kept_out(job) == dict.fromkeys(job.affected.values_list("premises", flat=True), False)
    without = pickups.planned(job)
    assert len(effects.loses({"N-7": "ABC"}, pickups.Planned(without.opens).on({"N-7": "ABC"}))) == FEEDER


def test_the_whole_job_step_by_step(cast: Cast, job: Clearance) -> None:
    """Customers out after each step; the tie has no tag; afterwards the network stands as it did."""
    cast.bring(job, "told", since="points chosen")
    assert not [one.flag for one in flags.current() if one.flag.clearance == job.pk]
    seen = []
    for step in cast.steps(job, "isolate"):
        cast.give_step(job, step)
        cast.report_step(step)
        seen.append((step.device_id, out_now()))
    assert seen == [("N-7", 0), ("B-14", 0), ("R-31", OUT)]
    assert not job.tags.filter(device="N-7").exists()
    assert not positions.open_phases().get("N-7")
    assert not [one for one in flags.current() if one.flag.about == "N-7"]
    cast.bring(fresh(job), "released", since="isolated")
    back = []
    for step in cast.steps(job, "restore"):
        cast.give_step(job, step)
        cast.report_step(step)
        back.append((step.operation, step.device_id, out_now()))
    assert back == [
        ("remove_tag", "R-31", OUT),
        ("close", "R-31", 0),
        ("remove_tag", "B-14", 0),
        ("close", "B-14", 0),
        ("open", "N-7", 0),
    ]
    assert SwitchingOrder.objects.get(pk=job.pk).state == "finished"
    assert not [one for one in flags.current() if one.flag.code == "position_without_reason"]


def test_where_the_tie_comes_last_the_rest_of_the_feeder_is_told_of_minutes(
    cast: Cast, job: Clearance
) -> None:
    """As between two stations: opened before it is closed, and back the same way."""
    cast.write(job)
    done(move(cast, job, "N-7", "isolate", 0))
    done(move(cast, job, "N-7", "restore", cast.steps(job, "restore")[0].place))
    assert [device for _, device, _ in written(job, "isolate")] == ["B-14", "R-31", "N-7"]
    assert written(job, "restore")[0] == ("open", "N-7", "")
    done(check(cast, job))
    assert job.affected.filter(briefly=True).count() == FEEDER - OUT
    assert job.affected.filter(briefly=False).count() == OUT
    cast.tell(fresh(job))
    told = Notice.objects.filter(fact=f"clearance:{job.pk}:planned:1", channel="email")
    short = [row for row in told if "for some minutes when we switch over" in row.body]
    assert len(short) == sum(
        bool(row.premises.contacts.filter(channel="email"))
        for row in job.affected.filter(briefly=True).select_related("premises")
    )
    assert short
    assert short[0].subject.startswith("Planned short interruptions of your power")
    assert all("Back by:" in row.body for row in told if row not in short)


def test_a_change_of_who_is_out_briefly_is_told_again(cast: Cast, job: Clearance) -> None:
    cast.write(job)
    done(move(cast, job, "N-7", "isolate", 0))
    done(check(cast, job))
    cast.tell(fresh(job))
    back = orders.take_check_back(
        cast.who(cast.dana), clearance=job.pk, version=fresh(job).version, why="N-7 stays open"
    )
    done(back)
    done(choose(cast, job))  # without the tie
    cast.write(fresh(job))
    entry = done(check(cast, job)).entry
    assert f"Told another hour: {FEEDER - OUT} customers of clearance {job.pk}." in entry.words
    assert not job.affected.filter(briefly=True).exists()
    assert job.affected.count() == FEEDER


def test_a_device_is_a_point_or_is_moved_besides(cast: Cast, job: Clearance) -> None:
    twice = choose(cast, job, devices=["B-14", "N-7"], closes=["N-7"])
    assert codes(twice) == ["point_and_pick_up"]
    both = choose(cast, job, closes=["N-7"], opens=["N-7"])
    assert codes(both) == ["point_and_pick_up"]
    assert codes(choose(cast, job, closes=["N-70"])) == ["unknown_device"]
    point = (
        "INSERT INTO clearances_isolationpoint (clearance_id, device_id, phases, place)"
        " VALUES (%s, 'N-7', 'ABC', 9)"
    )
    assert refused("point_or_pick_up", point, job.pk)
    pick_up = "INSERT INTO clearances_pickup (clearance_id, device_id, closes) VALUES (%s, %s, false)"
    assert refused("point_or_pick_up", pick_up, job.pk, "R-31")
    breaks("pick_up_device_once", pick_up, job.pk, "N-7")


def test_a_step_without_a_point_moves_what_was_chosen_for_it(cast: Cast, job: Clearance) -> None:
    cast.write(job)
    other = "UPDATE clearances_step SET device_id = 'C-280' WHERE order_id = %s AND device_id = 'N-7'"
    assert "moves it for no other reason" in refused("step_of_pick_up", other, job.pk)
    turned = (
        "UPDATE clearances_step SET operation = 'open'"
        " WHERE order_id = %s AND device_id = 'N-7' AND half = 'isolate'"
    )
    assert refused("step_of_pick_up", turned, job.pk)
    tagless = (
        "UPDATE clearances_step SET operation = 'check_open', point_id = NULL"
        " WHERE order_id = %s AND device_id = 'B-14' AND half = 'isolate'"
    )
    assert refused("step_of_pick_up", tagless, job.pk)
    with_a_look = (
        "UPDATE clearances_step SET operation = 'check_open'"
        " WHERE order_id = %s AND device_id = 'N-7' AND half = 'restore'"
    )
    breaks("step_operation_fits_half", with_a_look, job.pk)


def test_what_is_moved_besides_stands_with_a_checked_order(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "checked", since="points chosen")
    for sql in (
        "DELETE FROM clearances_pickup WHERE clearance_id = %s",
        "UPDATE clearances_affectedpremises SET briefly = true WHERE clearance_id = %s",
    ):
        assert refused("checked_plan_is_fixed", sql, job.pk)


def test_no_tie_is_closed_on_a_tag_or_at_a_held_point(cast: Cast, job: Clearance) -> None:
    """Another clearance has checked N-7 open and tagged it meanwhile."""
    cast.bring(job, "told", since="points chosen")
    other = cast.asked(holder=cast.bo, from_pole="P-223", to_pole="P-224")
    done(choose(cast, other, devices=["N-7", "B-12"]))
    typed(HANG, "ABC", other.pk, "N-7")
    (tie, *_) = cast.steps(job, "isolate")
    assert codes(give(cast, job, tie)) == ["tag_at_point"]
    assert refused("no_close_with_tag", GIVE_STEP, cast.dana.pk, tie.pk)


def test_two_that_move_one_tie_to_two_sides_are_not_both_checked(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "checked", since="points chosen")
    other = cast.asked(holder=cast.bo, from_pole="P-223", to_pole="P-224")
    done(choose(cast, other, devices=["N-7", "B-12", "D-219", "F-212"]))
    cast.write(fresh(other))
    assert f"One of the two opens N-7 and the other closes it (clearance {job.pk}, {job.holder}" in str(
        texts(check(cast, other))
    )


def test_a_tie_with_another_jobs_load_on_it_is_opened_by_that_jobs_order(cast: Cast, job: Clearance) -> None:
    """The windows were apart when both were checked; the first one runs late."""
    cast.bring(job, "isolated", since="points chosen")
    later = job.promised_end + datetime.timedelta(hours=1)
    other = cast.asked(holder=cast.bo, from_pole="P-275", to_pole="P-276", start=later)
    done(choose(cast, other, devices=["R-31", "K-277", "N-7"]))
    done(choose(cast, other, devices=["R-31"], closes=["N-7"]))
    cast.write(fresh(other))
    assert written(other, "isolate") == [("check_open", "R-31", f"{other.pk}-1")]
    assert written(other, "restore")[-1] == ("open", "N-7", "")
    order = SwitchingOrder.objects.filter(pk=other.pk)
    order.update(state="checked", checked_by=cast.ines, checked_at=later)
    (look,) = cast.steps(other, "isolate")
    cast.give_step(other, look)
    cast.report_step(look)
    cast.bring(fresh(job), "released", since="isolated")
    for step in cast.steps(job, "restore")[:2]:
        if step.operation == "remove_tag":
            cast.give_step(job, step)
            cast.report_step(step)
        else:  # R-31 is a point of the other
            left_out(cast, job, step)
    for step in cast.steps(job, "restore")[2:4]:
        cast.give_step(job, step)
        cast.report_step(step)
    tie = cast.steps(job, "restore")[-1]
    assert "tie_in_use" in codes(give(cast, job, tie))
    assert refused("tie_in_use", GIVE_STEP, cast.dana.pk, tie.pk) == (
        f"N-7 can't be ordered open: clearance {other.pk} has load picked up by it."
    )
    entry = left_out(cast, job, tie)
    assert "N-7 A, B, C stays closed" in entry.words
    assert SwitchingOrder.objects.get(pk=job.pk).state == "finished"


def test_a_tie_that_another_order_only_opens_has_none_of_its_load(cast: Cast, job: Clearance) -> None:
    """It closes another one."""
    other = cast.asked(holder=cast.bo, from_pole="P-251", to_pole="P-253", phases="B")
    done(choose(cast, other, devices=["C-233"], closes=["K-277"], opens=["N-7"]))
    cast.bring(fresh(other), "isolated", since="points chosen")
    assert [hit.clearance for hit in pickups.fed_by("K-277", but=job.pk)] == [other.pk]
    assert pickups.fed_by("N-7", but=job.pk) == ()


def test_a_plan_leaves_what_picks_load_up_for_another_job_alone(cast: Cast, job: Clearance) -> None:
    hours = (job.window_start, job.promised_end)
    assert in_the_way(hours).kept == {
        "N-7": f"moved to pick load up for work clearance {job.pk} ({job.holder})"
    }
    assert not in_the_way(hours, but=job.pk).kept


def test_one_tie_picks_load_up_for_one_job(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "checked", since="points chosen")
    other = cast.asked(holder=cast.bo, from_pole="P-282", to_pole="P-283")
    done(choose(cast, other, devices=["R-31", "B-12"], closes=["N-7"]))
    cast.write(fresh(other))
    said = str(texts(check(cast, other)))
    assert f"Both close N-7: whichever is done first opens it again (clearance {job.pk}" in said


def test_a_plan_that_hangs_on_what_another_job_opens_is_refused(cast: Cast, job: Clearance) -> None:
    """S12 on the board: feeder 12 is dead in the same hours, so what N-7 was to pick up would be out."""
    other = cast.asked(holder=cast.bo, from_pole="P-202", to_pole="P-203")
    done(choose(cast, other, devices=["B-12", "C-208"]))
    cast.write(fresh(other))
    at = SwitchingOrder.objects.filter(pk=other.pk)
    at.update(state="checked", checked_by=cast.ines, checked_at=fresh(other).window_start)
    cast.write(job)
    (text,) = texts(check(cast, job))
    assert text == (
        f"With the points of both open {FEEDER - OUT} customers are out whom neither counts (clearance "
        f"{other.pk}, {cast.bo}, {cast.bo.phone})."
    )


def test_a_window_that_moves_into_another_job_is_flagged(cast: Cast, job: Clearance) -> None:
    """The other job was the day after when both orders were checked."""
    cast.bring(job, "told", since="points chosen")
    other = cast.asked(
        holder=cast.bo,
        from_pole="P-223",
        to_pole="P-224",
        start=job.promised_end + datetime.timedelta(hours=1),
    )
    done(choose(cast, other, devices=["N-7", "B-12", "D-219", "F-212"]))
    cast.write(fresh(other))
    done(check(cast, other))
    assert not [one for one in flags.current() if one.flag.code == "pick_up_meets_other"]
    done(
        asking.move_promised_end(
            cast.who(job.holder),
            clearance=job.pk,
            promised_end=fresh(other).promised_end,
            why="rock in the ground",
        )
    )
    (flag,) = [one.flag for one in flags.current() if one.flag.code == "pick_up_meets_other"]
    assert flag.text.startswith("One of the two opens N-7 and the other closes it: order ")


def test_whoever_wrote_the_order_moves_its_steps(cast: Cast, job: Clearance) -> None:
    cast.write(job)
    assert codes(move(cast, job, "N-7", "isolate", 0, by="ines")) == ["not_the_writer"]
    assert codes(move(cast, job, "N-7", "isolate", 5)) == ["no_such_step"]  # of the other half
    done(move(cast, job, "R-31", "isolate", 2))
    assert [device for _, device, _ in written(job, "isolate")] == ["N-7", "R-31", "B-14"]
    cast.check(fresh(job))
    assert codes(move(cast, job, "N-7", "isolate", 0)) == ["steps_stand"]


def test_a_close_before_its_tag_is_off_is_not_checked(cast: Cast, job: Clearance) -> None:
    cast.write(job)
    done(move(cast, job, "B-14", "restore", cast.steps(job, "restore")[0].place))  # the close
    assert texts(check(cast, job)) == ["B-14 would be closed before its tag is taken off."]


def test_called_off_with_the_tie_closed_it_is_opened_again(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "told", since="points chosen")
    (tie, *_) = cast.steps(job, "isolate")
    cast.give_step(job, tie)
    cast.report_step(tie)
    off = calling_off.call_off_job(
        cast.who(cast.dana), clearance=job.pk, version=fresh(job).version, why="storm"
    )
    assert "1 device is to be restored." in done(off).entry.words
    assert written(job, "restore") == [("open", "N-7", "")]


def test_the_way_back_written_again_opens_what_is_still_closed(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "accepted", since="points chosen")
    before = [(operation, device) for operation, device, _ in written(job, "restore")]
    again = way_back.write_way_back(
        cast.who(cast.dana), clearance=job.pk, version=fresh(job).version, why="looked at again"
    )
    done(again)
    assert [(operation, device) for operation, device, _ in written(job, "restore")] == before
    done(
        reporting.report_position(
            cast.who(cast.sal), device="N-7", phases="ABC", position="open", done_at=job.window_start
        )
    )


def test_a_tie_that_can_not_be_closed_is_left_out_and_nothing_further_is_opened(
    cast: Cast, job: Clearance
) -> None:
    """Those whom it was to pick up were not counted, so the opening that takes them out is refused."""
    cast.bring(job, "told", since="points chosen")
    tie, breaker, _ = cast.steps(job, "isolate")
    left = switching.leave_step_out(
        cast.who(cast.dana), step=tie.pk, version=fresh(job).version, why="its handle is stuck"
    )
    done(left)
    assert codes(give(cast, job, breaker)) == ["customers_not_counted"]


def test_a_tag_told_of_at_the_tie_is_stored_as_irregular(cast: Cast, job: Clearance) -> None:
    cast.bring(job, "told", since="points chosen")
    (tie, *_) = cast.steps(job, "isolate")
    cast.give_step(job, tie)
    done(
        reporting.report_step(
            cast.who(cast.sal), step=tie.pk, phases="ABC", done_at=job.window_start, tag=True
        )
    )
    entry = LogEntry.objects.filter(verb="report_step").latest("number")
    assert f"A tag was told of at N-7, which is no point of clearance {job.pk}." in entry.irregular
    assert not job.tags.exists()


def test_what_the_pages_say_of_it(cast: Cast, job: Clearance) -> None:
    """The desk knows why the tie stands closed; who is out for minutes only is told so by telephone too."""
    cast.write(job)
    done(move(cast, job, "N-7", "isolate", 0))
    desk = signed_in(cast.dana)
    page = text_of(desk.get(f"/desk/clearances/{job.pk}/").content.decode())
    assert "so that fewer are out Close N-7, at P-287 Kiln Lane" in page
    assert f"{OUT} would be out with every chosen point open and what picks load up closed" in page
    done(check(cast, job))
    assert f"{OUT}, {FEEDER - OUT} for minutes" in text_of(desk.get("/desk/").content.decode())
    page = text_of(desk.get(f"/desk/clearances/{job.pk}/").content.decode())
    assert f"{FEEDER} counted when the order was checked {FEEDER - OUT} of them for minutes only" in page
    home = job.affected.filter(briefly=True)[0].premises_id
    service = signed_in(cast.mira).get(f"/service/?q={home}&premises={home}")
    assert "Planned off for some minutes, twice within" in text_of(service.content.decode())
    cast.bring(fresh(job), "accepted", since="checked")
    assert "moved so that fewer are out" in text_of(desk.get("/desk/").content.decode())


def test_a_plan_that_closes_a_tie_is_taken_as_it_is(cast: Cast) -> None:
    """From the page of plans to the order: the points and the tie are ticked; nothing else is."""
    clearance = cast.asked(from_pole="P-272", to_pole="P-273")
    desk = signed_in(cast.dana)
    body = desk.get(f"/desk/clearances/{clearance.pk}/plans/").content.decode()
    assert f"Without that {FEEDER} customers are out." in text_of(body)
    address = html.unescape(re.findall(r'href="(/do/choose_points/[^"]+)">Choose this one', body)[0])
    form = desk.get(address)
    values = {
        "devices": POINTS,
        "closes": ["N-7"],
        "key": str(form.context["form"]["key"].value()),
        "version": str(form.context["form"]["version"].value()),
    }
    assert re.findall(r'value="([^"]+)"[^>]* checked', form.content.decode()) == [*POINTS, "N-7"]
    assert desk.post(address, values).status_code == 303
    assert [str(row) for row in clearance.pick_ups.all()] == ["close N-7"]
