"""Customer service: one caller, one screen, and never more than may be read out."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from clearances.models import Clearance
from clearances.pages.service import search
from clearances.services import asking, reporting
from clearances.templatetags.board import clock
from tests.cast import STAGES, Cast, done

from .looking import Seen, acts, look

GRETA = "1141"  # 22 Quarry Lane, life-support, behind T-213 on phase C


def caller(cast: Cast, premises: str = GRETA) -> Seen:
    return look(cast.mira, f"/service/?premises={premises}")


@pytest.mark.parametrize(
    "typed",
    [
        "22 quarry lane",
        "quarry 22",
        "Lane Quarry 22",
        "OV 41141",
        "41141 ov",
        "greta zeller",
        "greta z",
        "22 quary lane",
    ],
)
def test_a_caller_is_found_by_a_part_of_what_they_say(cast: Cast, typed: str) -> None:
    assert search(typed)[0].pk == GRETA


def test_one_match_is_the_answer_and_several_are_a_list(cast: Cast) -> None:
    one = look(cast.mira, "/service/?q=41141")
    assert one.context["answer"]["where"] == "22 Quarry Lane · meter OV 41141"
    several = look(cast.mira, "/service/?q=quarry")
    assert len(several.context["matches"]) == 12
    assert "answer" not in several.context
    nothing = look(cast.mira, "/service/?q=xyzzy")
    assert "Nothing fits “xyzzy”" in nothing.text
    assert len(acts(nothing, "remark")) == 1


@pytest.mark.parametrize("typed", ["555 0115", "555-0115", "5155550115", "+1 515 555 0115", "greta.zeller@"])
def test_a_telephone_finds_its_premises_however_it_is_written(cast: Cast, typed: str) -> None:
    assert [one.pk for one in search(typed)] == [GRETA]


def test_a_house_number_is_no_part_of_a_telephone(cast: Cast) -> None:
    assert {one.address for one in search("elm street 5")} <= {
        "5 Elm Street",
        *(f"5{n} Elm Street" for n in range(10)),
    }
    assert {one.address for one in search("elm street 22")} == {"22 Elm Street"}


def test_out_on_planned_work(cast: Cast) -> None:
    job = cast.job("isolated")
    answer = caller(cast).context["answer"]
    since = clock(job.interruptions.get(premises=GRETA).off_at)
    assert answer["standing"] == "out"
    assert answer["headline"] == f"Out since {since}, planned work."
    assert answer["back"] == f"Power back by {clock(job.promised_end)}."
    assert answer["say"].startswith("Your power is off for planned work: new switch on the line.")
    assert answer["approved_at"] == job.entries.get(verb="tell_customers").entered_at
    assert dict(answer["facts"])["Neighbours"] == "3: power is out"


def test_planned_for_later(cast: Cast) -> None:
    start = timezone.now() + timedelta(days=3)
    job = cast.bring(cast.asked(start=start), "told")
    answer = caller(cast).context["answer"]
    assert (answer["standing"], answer["headline"]) == ("planned", "Power is on.")
    assert re.fullmatch(r"Planned off \w{3} \d+ \w{3} \d\d:\d\d to .*\d\d:\d\d\.", answer["back"])
    assert answer["say"].startswith("Your power is to be off ")
    assert job.state == Clearance.State.ASKED


def test_nothing_is_said_in_the_desks_name_before_the_desk_has_told(cast: Cast) -> None:
    cast.job("checked")
    seen = caller(cast)
    assert seen.context["answer"]["say"] == ""
    assert "The desk has not approved a sentence for this yet." in seen.text


def test_on_and_no_job(cast: Cast) -> None:
    answer = caller(cast).context["answer"]
    assert answer["standing"] == "on"
    assert answer["headline"] == "Power is on, by what is reported."
    assert answer["medical"] == "Life-support on record. No work is planned here."


def test_out_with_no_job(cast: Cast) -> None:
    done(
        reporting.report_position(
            cast.who(cast.sal), device="F-213", phases="C", position="open", done_at=timezone.now()
        )
    )
    answer = caller(cast).context["answer"]
    assert answer["standing"] == "out"
    assert answer["headline"].endswith("unplanned: a known trouble.")
    assert answer["more"].startswith("The cause is not known yet.")
    assert answer["back"] == "No time is known yet."
    assert answer["say"] == ""


def test_on_part_of_its_phases_is_neither_out_nor_on(cast: Cast) -> None:
    """The example at 8:41: phase A open at both ends, and the bank T-218 still fed on B and C."""
    job = cast.job("told")
    first, second = cast.steps(job, "isolate")[:2]
    cast.give_step(job, first)
    cast.report_step(first)
    cast.give_step(job, second)
    cast.report_step(second, "A", tag=False)
    on_phase_a = caller(cast, "1122").context["answer"]
    assert "T-210" in on_phase_a["behind"]
    assert on_phase_a["standing"] == "unknown"
    assert on_phase_a["headline"].startswith("On part of its phases, or voltage not known since ")
    assert caller(cast).context["answer"]["standing"] == "planned"


def test_a_moved_end_is_said_as_moved(cast: Cast) -> None:
    job = cast.job("isolated")
    later = job.promised_end + timedelta(hours=1)
    done(
        asking.move_promised_end(
            cast.who(cast.ana), clearance=job.pk, promised_end=later, why="Bo Lindqvist has the bucket truck"
        )
    )
    seen = caller(cast)
    assert seen.context["answer"]["back"] == f"Power back by {clock(later)}."
    assert "The time was changed since the first notice." in seen.text
    assert "bucket truck" not in seen.text


def test_life_support_not_yet_answered_can_be_answered_on_the_call(cast: Cast) -> None:
    job = cast.job("checked")
    seen = caller(cast)
    assert seen.context["answer"]["medical_open"]
    assert acts(seen, "record_answer")[0].startswith(
        f"/do/record_answer/?clearance={job.pk}&premises={GRETA}"
    )
    cast.tell(job)
    seen = caller(cast)
    assert not seen.context["answer"]["medical_open"]
    assert not acts(seen, "record_answer")
    assert "by the daughter: stays with her sister until the evening" in seen.text


@pytest.mark.parametrize("stage", STAGES)
def test_no_crew_no_tag_and_no_word_about_the_line(cast: Cast, stage: str) -> None:
    job = cast.job(stage)
    for path in (f"/service/?premises={GRETA}", "/service/?q=quarry", "/service/"):
        seen = look(cast.mira, path)
        page = seen.html
        for person in (cast.ana, cast.bo, cast.sal):
            assert str(person) not in page
            assert person.phone not in page
        assert "Lee Abara" not in page
        assert not re.search(rf"\b{job.pk}-\d", page)
        assert not re.search(r"de-energized|grounded|isolated|\btag\b|C-208|C-221", seen.text, re.IGNORECASE)


def test_a_call_becomes_a_note_for_the_desk(cast: Cast) -> None:
    links = acts(caller(cast), "remark")
    assert len(links) == 2
    assert all("about=22+Quarry+Lane" in link for link in links)
