"""The phone's pages: the words in the largest type, the one question, the call that is always in reach."""

import pytest
from django.utils import timezone

from clearances.models import Clearance
from clearances.services import on_the_line
from clearances.templatetags.board import clock
from tests.cast import Cast, done

from .looking import acts, look


def sheet(cast: Cast, job: Clearance) -> str:
    return f"/field/clearances/{job.pk}/"


@pytest.mark.parametrize(
    ("stage", "state", "question", "act"),
    [
        ("asked", "Not given", "Wait for the desk to give it", ""),
        ("isolated", "Not given", "4 of 4 points are reported", ""),
        ("given", "Given {given}, not accepted", "Do you accept?", "accept_clearance"),
        ("accepted", "Accepted {accepted}", "Test for voltage at the work", "report_test"),
        ("tested", "Accepted {accepted}", "Put the ground sets on", "ground_on"),
        ("grounded", "Accepted {accepted}", "Everybody signs on", "sign_on"),
        ("working", "Accepted {accepted}", "which ground set is off?", "ground_off"),
        ("people and grounds off", "Accepted {accepted}", "Release it?", "release_clearance"),
        ("released", "Released {released}", "", ""),
    ],
)
def test_the_state_and_the_one_question(cast: Cast, stage: str, state: str, question: str, act: str) -> None:
    job = cast.job(stage)
    seen = look(cast.ana, sheet(cast, job))
    times = {
        "given": clock(job.given_at),
        "accepted": clock(job.accepted_at),
        "released": clock(job.released_at),
    }
    assert " ".join(seen.context["clearance"]["state"]) == state.format(**times)
    asked = seen.context["next"]
    assert (question in asked["words"]) if question else asked is None
    offered = [one["url"].split("/")[2] for one in asked["acts"]] if asked else []
    assert offered == ([act] if act else [])


@pytest.mark.parametrize(
    ("stage", "caution"),
    [
        ("isolated", "No work under it. Treat the line as energized."),
        ("given", "No work under it. Treat the line as energized."),
        ("accepted", "Treat it as energized until you have tested it and put the ground sets on."),
        ("tested", "No ground set is on: treat it as energized."),
        ("grounded", "reported grounded: G3 at P-214, G5 at P-215. Treat all else as energized."),
        ("people and grounds off", "No ground set is on: treat it as energized."),
        ("released", "No work under it. Treat the line as energized."),
    ],
)
def test_every_state_says_what_the_line_is_to_be_taken_for(cast: Cast, stage: str, caution: str) -> None:
    assert caution in look(cast.ana, sheet(cast, cast.job(stage))).text


def test_voltage_present_is_within_reach_while_the_clearance_stands(cast: Cast) -> None:
    job = cast.job("given")
    assert (
        look(cast.ana, sheet(cast, job))
        .context["voltage"]["url"]
        .startswith(f"/do/report_test/?clearance={job.pk}&result=present")
    )
    other = cast.asked(holder=cast.bo, from_pole="P-278", to_pole="P-279")
    assert look(cast.bo, sheet(cast, other)).context["voltage"] is None


def test_voltage_found_freezes_the_sheet(cast: Cast) -> None:
    job = cast.job("accepted")
    cast.test(job, "present")
    seen = look(cast.ana, sheet(cast, job))
    assert seen.context["clearance"]["standing"] == "frozen"
    assert seen.context["clearance"]["state"] == ["FROZEN"]
    assert "Not valid to work. Everybody off, treat it as energized. VOLTAGE PRESENT at P-214" in seen.text
    assert "ground_on" not in str(seen.urls())
    assert look(cast.ana, "/field/").context["mine"][0]["state"] == "FROZEN"


def test_only_the_holder_is_asked_to_accept_and_to_release(cast: Cast) -> None:
    job = cast.bring(cast.asked(alternate=cast.bo), "given")
    seen = look(cast.bo, sheet(cast, job))
    assert seen.context["next"] == {"words": "Ana Duarte reads it back and accepts it.", "acts": []}
    cast.accept(job)
    assert not acts(look(cast.bo, sheet(cast, job)), "release_clearance")
    assert acts(look(cast.ana, sheet(cast, job)), "release_clearance")


def test_points_with_pole_street_phases_tag_time_and_name(cast: Cast) -> None:
    seen = look(cast.ana, sheet(cast, cast.job("accepted")))
    assert (seen.context["points_done"], seen.context["points_all"]) == (4, 4)
    point = seen.context["points"][1]
    assert (point["device"], point["where"], point["standing"]) == ("C-221", "P-221 Quarry Lane", "reported")
    assert point["position"] == "A B C open, barrels out, secured"
    assert point["tag"].endswith("-2")
    assert point["by"] == "Sal Moreno"
    assert "P-221 Quarry Lane beyond C-221 (12.47 kV)" in seen.text


def test_possible_sources_are_named_with_their_address(cast: Cast) -> None:
    sources = look(cast.ana, sheet(cast, cast.job("accepted"))).context["sources"]
    assert sorted(sources) == [
        "inverter INV-212 at 14 Quarry Lane: parted from you by D-212 only",
        "standby generator GEN-219 at 41 Quarry Lane: parted from you by D-219 only",
    ]


def test_whoever_shares_a_point_is_named_with_a_telephone(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Cast, "points", ("J-207", "C-208"))
    tap = cast.bring(cast.asked(holder=cast.bo, from_pole="P-207", to_pole="P-208"), "accepted")
    monkeypatch.undo()
    job = cast.job("isolated")
    seen = look(cast.ana, sheet(cast, job))
    (bo,) = seen.context["others"]
    assert (bo["name"], bo["phone"]) == ("Bo Lindqvist", "555-0142")
    assert f"work clearance {tap.pk}, also on C-208" in bo["words"]
    assert "C-208 also carries tag" in seen.context["points"][0]["shared"]


def test_a_customer_who_depends_on_the_line_is_named(cast: Cast) -> None:
    sore = look(cast.ana, sheet(cast, cast.job("told"))).context["sore"]
    assert "Life-support at 22 Quarry Lane: stays with her sister until the evening" in sore
    assert "Critical at 34 Quarry Lane (Orrin Vale Water, Quarry Lane pump station)" in sore


def test_the_first_page_shows_the_step_given_to_me(cast: Cast) -> None:
    job = cast.job("told")
    first = cast.steps(job, "isolate")[0]
    cast.give_step(job, first)
    seen = look(cast.sal, "/field/")
    step = seen.context["step"]
    assert (step["words"], step["device"], step["phases"], step["where"]) == (
        "Open", "C-208", "A B C", "P-208 Quarry Lane",
    )  # fmt: skip
    assert acts(seen, "report_step") == [f"/do/report_step/?step={first.pk}&back=%2Ffield%2F"]
    assert "Read the number on the pole aloud" in seen.text
    assert look(cast.bo, "/field/").context["step"] is None


def test_the_first_page_of_somebody_with_nothing_says_so(cast: Cast) -> None:
    seen = look(cast.tom, "/field/")
    assert (
        "You hold no work clearance, and no step is given to you. Treat every line as energized." in seen.text
    )


def test_the_desk_can_be_called_from_every_page(cast: Cast) -> None:
    job = cast.job("checked")  # checked by Ines: hers is the newest act of an operator
    for path in ("/field/", sheet(cast, job)):
        seen = look(cast.ana, path)
        assert seen.context["desk"] == {"name": "Ines Okafor", "phone": "555-0101"}
        assert "tel:555-0101" in seen.urls()


def test_a_person_who_signed_off_still_sees_the_sheet_of_the_day(cast: Cast) -> None:
    job = cast.job("grounded")
    for verb in (on_the_line.sign_on, on_the_line.sign_off):
        who = cast.who(cast.ana)
        done(verb(who, clearance=job.pk, name="Sal Moreno", done_at=timezone.now()))
    assert [one["number"] for one in look(cast.sal, "/field/").context["mine"]] == [job.pk]
