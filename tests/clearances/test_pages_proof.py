"""The proof of a clearance as it is read: for the desk, for whoever is on it, on paper."""

import pytest
from django.utils import timezone

from clearances.models import Clearance
from clearances.services import reporting
from tests.cast import Cast, done

from .looking import Seen, look


def proof(seen: Seen) -> dict[str, list[tuple[str, str, str]]]:
    """The parts of the proof by name: phases, source, and what blocks or would settle it."""
    return {
        part["name"]: [
            (line["phases"], line["source"], line["by"] or line["settles"]) for line in part["lines"]
        ]
        for part in seen.context["parts"]
    }


def report(cast: Cast, device: str, phases: str, position: str) -> None:
    done(
        reporting.report_position(
            cast.who(cast.sal), device=device, phases=phases, position=position, done_at=timezone.now()
        )
    )


def address(one: Clearance) -> str:
    return f"/clearances/{one.pk}/proof/"


def test_every_source_and_the_point_with_its_tag_that_blocks_it(cast: Cast) -> None:
    one = cast.job("working")
    seen = look(cast.dana, address(one))
    parts = proof(seen)
    assert (parts["Not blocked"], parts["Can't be known"]) == ([], [])
    assert ("A B C", "station ST-1", f"C-221 A B C, tag {one.pk}-2, P-221 Quarry Lane") in parts["Blocked"]
    blocked = {(source, by.partition(",")[0]) for _, source, by in parts["Blocked"]}
    assert blocked == {
        ("station ST-1", "C-208 A B C"),
        ("station ST-1", "C-221 A B C"),
        ("standby generator GEN-219 at 41 Quarry Lane", "D-219 B"),
        ("inverter INV-212 at 14 Quarry Lane", "D-212 B"),
    }
    assert "one open only: one device closed by mistake lets it in" in seen.text
    assert "4 of 4 points reported open, made inoperable and tagged" in seen.text
    assert "a generator on an extension cord" in seen.text


def test_what_is_not_blocked_comes_before_everything(cast: Cast) -> None:
    """A step of a point undone by whoever was there: the proof says which phases, by what way, what to do."""
    one = cast.job("working")
    report(cast, "C-221", "B", "closed")
    parts = proof(look(cast.ana, address(one)))
    assert list(parts) == ["Not blocked", "Can't be known", "Blocked"]
    settles = "Open C-221 (P-221) on phase B, make it inoperable, hang a tag of this clearance."
    assert parts["Not blocked"][0] == ("B", "station ST-1", settles)
    assert {phases for phases, _, _ in parts["Not blocked"]} == {"B", "A C"}


def test_what_stands_open_without_a_tag_of_its_own_cannot_be_known(cast: Cast) -> None:
    """S17: a device counts when it is checked, made inoperable and tagged for this clearance."""
    one = cast.job("told")
    first, *_ = cast.steps(one, "isolate")
    cast.give_step(one, first)
    report(cast, "C-208", "ABC", "open")
    parts = proof(look(cast.dana, address(one)))
    settles = "Check C-208 (P-208) on phases A, B, C open, make it inoperable, hang a tag of this clearance."
    assert ("A B C", "station ST-1", settles) in parts["Can't be known"]
    assert any(source == "station ST-1" for _, source, _ in parts["Not blocked"])


def test_a_plan_is_proved_with_its_chosen_points_and_says_so(cast: Cast) -> None:
    one = cast.job("points chosen")
    seen = look(cast.dana, address(one))
    assert proof(seen)["Not blocked"] == []
    assert "Would be: Blocked" in seen.text
    assert "None of that is reported." in seen.text
    assert seen.text.count("PLAN") >= 1


def test_s33_voltage_is_found_although_every_source_is_blocked(cast: Cast) -> None:
    """The map is wrong: the proof stands, the tester finds voltage. The clearance freezes, and the proof goes
    on saying what it does not know."""
    one = cast.job("accepted")
    cast.test(Clearance.objects.get(pk=one.pk), "present")
    one = Clearance.objects.get(pk=one.pk)
    assert one.state == Clearance.State.FROZEN
    seen = look(cast.ana, address(one))
    assert proof(seen)["Not blocked"] == []
    assert "Not valid to work." in seen.text
    assert "a tie that nobody drew" in seen.text


def test_who_may_read_it(cast: Cast) -> None:
    one = cast.job("working")
    for person, status in (
        (cast.dana, 200),
        (cast.ines, 200),
        (cast.ana, 200),
        (cast.sal, 200),
        (cast.bo, 403),
        (cast.mira, 403),
    ):
        assert look(person, address(one)).status == status, person
    assert look(cast.dana, "/clearances/9999/proof/").status == 404


def test_it_is_printed_and_linked_from_where_it_is_wanted(cast: Cast) -> None:
    one = cast.job("working")
    paper = look(cast.dana, f"/desk/clearances/{one.pk}/proof/")
    assert f"Proof {one.pk}" in paper.text
    assert "C-221 A B C" in paper.text
    assert address(one) in look(cast.dana, f"/desk/clearances/{one.pk}/").urls()
    assert address(one) in look(cast.ana, f"/field/clearances/{one.pk}/").urls()


@pytest.mark.parametrize("stage", ["order written", "isolated", "released"])
def test_nothing_on_it_promises(cast: Cast, stage: str) -> None:
    seen = look(cast.dana, address(cast.job(stage)))
    assert not {"safe", "isolated", "%"} & set(seen.text.lower().split())
    assert ("what is blocked here protects nobody" in seen.text) == (stage == "released")
