"""One clearance on the desk: a plan until its first step is given, then the acts in their order with what
would refuse them."""

import pytest
from django.utils import timezone

from clearances import facts, pickups
from clearances.models import Clearance, Step
from clearances.rules.giving import may_give
from clearances.services import reporting, switching
from clearances.services.orders import faults_of
from tests.cast import Cast, done

from .looking import Seen, acts, look
from .plays import Tap, called_off


def page(cast: Cast, job: Clearance) -> Seen:
    return look(cast.dana, f"/desk/clearances/{job.pk}/")


def first_act(seen: Seen) -> str:
    return str(seen.context["acts"][0]["url"]).split("?")[0]


@pytest.mark.parametrize(
    ("stage", "plan", "act"),
    [
        ("asked", True, "/do/choose_points/"),
        ("points chosen", True, "/do/write_order/"),
        ("order written", True, "/do/check_order/"),
        ("checked", True, "/do/tell_customers/"),
        ("told", True, "/desk/"),
        ("isolated", False, "/do/give_clearance/"),
        ("given", False, "/do/accept_clearance/"),
        ("accepted", False, "/do/report_test/"),
        ("tested", False, "/do/ground_on/"),
        ("grounded", False, "/do/sign_on/"),
        ("working", False, "/do/ground_off/"),
        ("people and grounds off", False, "/do/release_clearance/"),
        ("released", False, "/do/give_step/"),
        ("restored", False, "/do/remark/"),
    ],
)
def test_the_expected_act_comes_first(cast: Cast, stage: str, plan: bool, act: str) -> None:
    seen = page(cast, cast.job(stage))
    assert bool(seen.context["plan"]) is plan
    assert ("Not the real network. No order can be given from this page." in seen.text) is plan
    assert first_act(seen) == act


@pytest.mark.parametrize("stage", ["asked", "points chosen", "order written", "checked", "told"])
def test_a_plan_has_no_way_to_give_an_order(cast: Cast, stage: str) -> None:
    seen = page(cast, cast.job(stage))
    for name in ("give_step", "report_step", "give_clearance", "ground_on", "release_clearance"):
        assert not acts(seen, name)


def test_a_plan_shows_what_would_still_feed_the_limits(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Cast, "points", ("C-208", "D-212", "D-219"))
    job = cast.job("order written")
    seen = page(cast, job)
    assert "Would not be blocked by the points chosen" in seen.text
    live = seen.context["feeds"]["live"]
    assert live
    assert all("C-221" in way for way in live if way.startswith("feeder"))
    assert [refusal.text for refusal in seen.context["refusals"]] == [
        "Dana Reyes wrote this order; another person has to check it."
    ]
    by_another = look(cast.ines, f"/desk/clearances/{job.pk}/")
    assert [one.code for one in by_another.context["refusals"]] == [one.code for one in faults_of(job)]
    assert "plan_leaves_source" in {one.code for one in by_another.context["refusals"]}


def test_what_is_blocked_is_named_with_the_point_that_blocks_it(cast: Cast) -> None:
    job = cast.job("isolated")
    feeds = page(cast, job).context["feeds"]
    assert feeds["live"] == []
    by = {way["by"] for way in feeds["blocked"]}
    assert {f"C-221 A B C, tag {job.pk}-2", f"C-208 A B C, tag {job.pk}-1", f"D-219 B, tag {job.pk}-3"} <= by


def test_the_refusals_are_those_of_the_rules(cast: Cast) -> None:
    job = cast.job("told")
    for step in cast.steps(job, "isolate"):
        cast.give_step(job, step)
        cast.report_step(step)
    done(
        reporting.report_position(
            cast.who(cast.sal), device="C-221", phases="B", position="closed", done_at=timezone.now()
        )
    )
    assert first_act(page(cast, job)) == "/do/resume_order/"
    job.refresh_from_db()
    who = cast.who(cast.dana)
    done(switching.resume_order(who, clearance=job.pk, version=job.version, why="to be opened again"))
    job.refresh_from_db()
    seen = page(cast, job)
    expected = may_give(facts.facts_of(job))
    assert [one.text for one in seen.context["refusals"]] == [one.text for one in expected]
    assert "The next act would be refused:" in seen.text
    assert expected[0].text in seen.text
    assert "found otherwise" in [point["standing"] for point in seen.context["points"]]


def test_both_halves_with_the_positions_expected(cast: Cast) -> None:
    job = cast.job("released")
    halves = dict(page(cast, job).context["halves"])
    *isolate, gate = halves["Isolate"]
    assert gate["gate"] == f"Clearance {job.pk} may be given here"
    assert [(row["device"], row["before"], row["after"]) for row in isolate] == [
        ("C-208", "A B C closed", "A B C open"),
        ("C-221", "A B C closed", "A B C open"),
        ("D-219", "B closed", "B open"),
        ("D-212", "B closed", "B open"),
    ]
    assert {row["state"] for row in isolate} == {"reported"}
    first = isolate[0]
    assert first["operation"] == (
        f"Open C-208 A, B, C at P-208 Quarry Lane; remove the barrels and secure them; hang tag {job.pk}-1"
    )
    assert all(first["times"][name] for name in ("ordered", "done", "reported", "entered"))
    closes = [row for row in halves["Restore"] if row["operation"].startswith("Close")]
    assert {(row["before"][-4:], row["after"][-6:]) for row in closes} == {("open", "closed")}
    # One step may be given, the first of the way back, and only that row offers it.
    offering = [row for row in halves["Restore"] if row["acts"]]
    assert [row["number"] for row in offering] == [5]


def test_a_close_that_a_tag_forbids_says_whose_it_is(
    cast: Cast, tap: Tap, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Cast, "points", ("J-207", "C-208"))
    other = cast.bring(cast.asked(holder=cast.bo, from_pole="P-207", to_pole="P-208"), "accepted")
    monkeypatch.setattr(Cast, "points", ("C-221", "C-208", "D-219", "D-212"))
    job = cast.job("isolated")
    # The order leaves C-208 open because tag of the other hangs there already: nothing of it is closed.
    closes = [step.device_id for step in cast.steps(job, "restore") if step.operation == "close"]
    assert closes == ["C-221", "D-212", "D-219"]
    shared = page(cast, job).context["points"][1]["shared"]
    assert shared == f"C-208 also carries tag {other.pk}-2 (Bo Lindqvist, 555-0142)"


def test_customers_told_and_not_and_the_life_support(cast: Cast) -> None:
    job = cast.job("checked")
    before = page(cast, job).context["customers"]
    assert before["counts"][0]["n"] == 62
    assert [(one["where"], one["answered"]) for one in before["critical"]] == [("22 Quarry Lane", False)]
    assert before["critical"][0]["way"]["url"].startswith(f"/do/record_answer/?clearance={job.pk}")
    cast.tell(job)
    after = page(cast, job).context["customers"]
    assert (after["stages"][0]["told"], after["stages"][0]["untold"]) == (0, 62)  # promised, none sent yet
    assert after["critical"][0]["answered"]
    assert "stays with her sister" in after["critical"][0]["words"]


def test_a_plan_counts_who_would_be_out(cast: Cast) -> None:
    job = cast.job("points chosen")
    (count,) = page(cast, job).context["customers"]["counts"]
    assert count["n"] == 62 == len(pickups.kept_out(job))


def test_called_off_half_way_is_restored_and_not_a_plan(tap: Tap) -> None:
    job = tap.job("told")
    step = tap.steps(job, Step.Half.ISOLATE)[0]
    tap.give_step(job, step)
    tap.report_step(step)
    seen = page(tap, called_off(tap, Clearance.objects.get(pk=job.pk)))
    assert seen.context["plan"] is None
    assert seen.context["clearance"]["state"].startswith("Called off.")
    assert first_act(seen) == "/do/give_step/"


def test_a_frozen_clearance_says_what_would_end_it(cast: Cast) -> None:
    job = cast.job("accepted")
    cast.test(job, "present")
    seen = page(cast, job)
    assert "FROZEN. VOLTAGE PRESENT at P-214" in seen.text
    assert first_act(seen) == "/do/end_freeze/"
    assert "voltage_present" in {one.code for one in seen.context["refusals"]}


def test_the_papers(cast: Cast) -> None:
    job = cast.job("accepted")
    papers = page(cast, job).context["papers"]
    labels = [paper["label"] for paper in papers]
    assert labels == ["Switching order", "Clearance sheet", "Device tags", "Proof"]
    for paper in papers:
        printed = look(cast.dana, paper["url"])
        assert printed.status == 200
        assert f"{job.pk}" in printed.text
