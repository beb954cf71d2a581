"""Who leans on what turned out otherwise, where the desk answers it; and S33, voltage where all is open."""

from django.utils import timezone

from clearances.leaning import leaning_on, of_entry
from clearances.models import Clearance, LogEntry
from clearances.services import reporting, seen
from tests.cast import Cast, done

from .looking import look
from .plays import Tap


def test_a_clearance_an_order_and_a_plan_lean_on_one_cutout(cast: Cast) -> None:
    out = cast.job("working")
    checked = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211"), "checked")
    plan = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-210"), "points chosen")
    found = {one.number: one for one in leaning_on(["C-208"])}
    assert set(found) == {out.pk, checked.pk, plan.pk}
    places = [step.place for step in cast.steps(out, "restore") if step.device_id == "C-208"]
    to_come = "; ".join(f"step {place} is still to come at C-208 A, B, C" for place in places)
    assert len(places) == 2  # the tag, then the close
    assert found[out.pk].words == (
        f"Work clearance {out.pk} of Ana Duarte, 555-0117 (accepted): C-208 is a point of it; {to_come}"
    )
    assert found[checked.pk].what == f"Order {checked.pk}, checked, of Bo Lindqvist, 555-0142 (asked for)"
    assert found[plan.pk].words == (
        f"Plan {plan.pk} of Bo Lindqvist, 555-0142 (asked for): C-208 is a point of it"
    )


def test_limits_and_ground_sets_lean_on_a_place(cast: Cast) -> None:
    out = cast.job("working")
    (one,) = leaning_on(poles=["P-214"])
    assert one.number == out.pk
    assert one.whys == ("its limits reach there", "ground set G3 at P-214 is on")
    assert leaning_on(poles=["P-281"], devices=["C-280"]) == ()


def test_what_is_restored_leans_on_nothing_any_more(tap: Tap) -> None:
    released = tap.job("released")
    (one,) = leaning_on(["C-233"])
    assert one.what == f"Order {released.pk}, checked, of Ana Duarte, 555-0117 (released)"
    tap.restore(released)
    assert leaning_on(["C-233"]) == ()


def test_s54_what_an_emergency_opening_broke_is_listed_where_it_is_answered(cast: Cast) -> None:
    out = cast.job("working")
    entry = done(seen.open_now(cast.who(cast.bo), device="C-208", phases="A")).entry
    (line, *rest) = of_entry(entry)
    assert line.startswith(
        f"Work clearance {out.pk} of Ana Duarte, 555-0117 (accepted): C-208 is a point of it"
    )
    assert rest == []
    page = look(cast.dana, f"/do/answer_irregular/?entry={entry.number}")
    assert "Leans on it" in page.text
    assert f"Work clearance {out.pk} of Ana Duarte" in page.text
    breaker = done(seen.open_now(cast.who(cast.bo), device="B-14", phases="ABC")).entry
    assert of_entry(breaker)[-1].endswith(" at B-14")


def test_s33_voltage_where_every_point_is_open(cast: Cast) -> None:
    """Given both ends open, the tester finds voltage: the clearance is frozen, no step is given, and where it
    is answered stand the three guesses with what the record says, and who planned on the same record."""
    out = cast.job("working")
    other = cast.bring(cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211"), "checked")
    cast.test(out, result="present")
    assert Clearance.objects.get(pk=out.pk).state == "frozen"
    entry = LogEntry.objects.latest("number")
    page = look(cast.dana, f"/do/answer_irregular/?entry={entry.number}")
    about = dict(page.context["about"])
    label, tie, backfeed = about["What it may be"]
    assert label == "A wrong phase label: are the phases at P-214, and at each point, those of the record?"
    assert tie.startswith("A tie that is not on record. Energized by the board and nearest: P-")
    assert backfeed == (
        "A feed from a customer's side. On record: GEN-219 at 41 Quarry Lane, INV-212 at 14 Quarry Lane; one "
        "that is not on record may stand at any of the 62 customers counted."
    )
    (named,) = about["Planned on the same record"]
    assert named.startswith(f"Order {other.pk}, checked, of Bo Lindqvist")


def test_s33_at_a_pole_that_is_not_on_record(tap: Tap) -> None:
    clearance = tap.job("accepted")
    from clearances import guesses

    label, tie, _ = guesses.about(clearance, "P-999")
    assert tie == "A tie that is not on record: where P-999 stands is not known, so walk the limits."
    assert "those of the record?" in label


def test_a_remark_leans_on_nothing(tap: Tap) -> None:
    clearance = tap.job("told")
    (step,) = tap.steps(clearance, "isolate")
    tap.give_step(clearance, step)
    stuck = done(seen.report_stuck(tap.who(tap.sal), step=step.pk, phases="B", done_at=timezone.now()))
    assert of_entry(stuck.entry)
    remark = done(
        reporting.answer_irregular(tap.who(tap.dana), entry=stuck.entry.number, answer="freed with oil")
    )
    assert of_entry(remark.entry) == ()
