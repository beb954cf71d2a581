"""The orders of a job rehearsed on the board: from now on, on the network as the job will leave it."""

from typing import Any

import pytest
from django.utils import timezone

from circuits.core.rehearsing.rehearsal import rehearse
from circuits.core.rehearsing.slips import slips
from clearances import rehearsing
from clearances.services import changes, on_the_line, planning
from tests.cast import Cast, done

from .looking import look, signed_in, text_of
from .test_pages_all import NEVER


def test_before_the_day_all_of_the_order_is_played_and_power_is_back_at_its_end(cast: Cast) -> None:
    job = cast.job("checked")
    played = rehearsing.of_job(job)
    frames = rehearse(played.order)
    assert [step.place if step else 0 for step in played.steps] == [0, 1, 2, 3, 4, 0, *range(5, 13)]
    assert [len(frame.out) for frame in frames][:6] == [0, 0, 62, 62, 62, 62]
    assert not frames[-1].out
    (crew,) = played.order.crews
    assert (crew.name, crew.first, crew.last) == (f"clearance {job.pk} (Duarte)", 4, 5)


def test_the_killer_slip_is_said_in_one_sentence(cast: Cast) -> None:
    job = cast.job("checked")
    found = {slip.what: slip.sentence for slip in slips(rehearsing.of_job(job).order)}
    assert found["Step 2 left out"] == (
        f"Step 2 left out: clearance {job.pk} (Duarte) is hit, phases A, B, C at P-213 energized from ST-1."
    )


def test_in_the_midst_of_it_only_what_is_left_is_played_with_whoever_is_on_the_line(cast: Cast) -> None:
    job = cast.job("working")
    played = rehearsing.of_job(job)
    assert [step.place if step else 0 for step in played.steps] == [0, 0, *range(5, 13)]
    (crew,) = played.order.crews
    assert (crew.first, crew.last) == (0, 1)


def test_another_crew_on_the_line_is_there_all_the_time(cast: Cast) -> None:
    job = cast.job("working")
    other = cast.asked(holder=cast.bo, from_pole="P-251", to_pole="P-253", phases="B")
    who = cast.who(cast.dana)
    done(planning.choose_points(who, clearance=other.pk, version=other.version, devices=["C-233"]))
    other.refresh_from_db()
    cast.write(other)
    names = [(crew.name, crew.first, crew.last) for crew in rehearsing.of_job(other).order.crews]
    assert names[-1] == (f"clearance {job.pk} (Duarte)", 0, None)


def test_the_restore_half_is_played_on_the_network_as_the_job_is_planned_to_leave_it(cast: Cast) -> None:
    job = cast.job("working")
    tap = {"transformer": "T-213", "phases": "A"}
    done(changes.plan_change(cast.who(cast.dana), clearance=job.pk, change="move_transformer", given=tap))
    played = rehearsing.of_job(job)
    before, after = played.order.parts
    assert before.compiled.network.device["F-213"].phases == "C"
    assert after.compiled.network.device["F-213"].phases == "A"
    row = job.change_sets.get()
    (said,) = played.said
    assert said == (
        f"The restore half is played on the network as {row} is planned to leave it: {row.words}."
    )


def test_a_ground_set_at_a_place_that_is_not_on_the_network_is_told(cast: Cast) -> None:
    job = cast.job("working")
    said: dict[str, Any] = {"label": "G9", "pole": "P-999", "phases": "ABC", "done_at": timezone.now()}
    done(on_the_line.ground_on(cast.who(cast.sal), clearance=job.pk, **said))
    (told,) = rehearsing.of_job(job).said
    assert told == (
        f"The place of ground set G9 at P-999 of clearance {job.pk} (Duarte) is not on the network: it "
        "may be here, and no slip is tried on it."
    )


class TestThePage:
    def test_it_goes_forward_and_back_and_is_a_plan(self, cast: Cast) -> None:
        job = cast.job("checked")
        first = look(cast.dana, f"/desk/clearances/{job.pk}/rehearsal/")
        assert (first.context["earlier"], first.context["later"]) == (None, 1)
        second = look(cast.dana, f"/desk/clearances/{job.pk}/rehearsal/?at=2")
        assert (second.context["earlier"], second.context["later"]) == (1, 3)
        assert second.context["shown"]["newly_out"] == 62
        assert "Not the real network." in second.text
        assert not NEVER.search(second.text)
        assert second.context["oneline"].sentences != first.context["oneline"].sentences

    @pytest.mark.parametrize("at", ["99", "-1", "x", "٣", "1" * 40])
    def test_a_state_that_is_not_there(self, cast: Cast, at: str) -> None:
        job = cast.job("checked")
        assert look(cast.dana, f"/desk/clearances/{job.pk}/rehearsal/?at={at}").status == 404

    def test_without_an_order_there_is_none(self, cast: Cast) -> None:
        job = cast.job("points chosen")
        assert look(cast.dana, f"/desk/clearances/{job.pk}/rehearsal/").status == 404
        assert look(cast.dana, f"/desk/clearances/{job.pk}/").context["rehearse"] == ""

    def test_the_slips_are_ranked(self, cast: Cast) -> None:
        job = cast.job("checked")
        seen = look(cast.dana, f"/desk/clearances/{job.pk}/rehearsal/slips/").context
        assert seen["hit_count"] == len(seen["hits"]) + len(seen["more_hits"])
        assert "is hit" in seen["hits"][0]
        alone = signed_in(cast.dana).get(f"/desk/clearances/{job.pk}/rehearsal/slips/").content.decode()
        part = signed_in(cast.dana).get(
            f"/desk/clearances/{job.pk}/rehearsal/slips/", headers={"HX-Request": "true"}
        )
        assert "<html" in alone
        assert "<html" not in part.content.decode()
        assert not NEVER.search(text_of(alone))
        assert seen["customers"]
        assert all("is hit" not in sentence for sentence in seen["customers"])
