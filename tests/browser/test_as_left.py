"""What a job changes on the network, on the screens: planned at the desk, ticked on the phone, surveyed."""

from circuits.models import Device
from clearances.models import ChangeSet
from tests.cast import Cast

from .conftest import DESK, PHONE, Faults, Seat, Shot
from .people import AtDesk, OnPhone


def test_from_the_plan_to_the_survey(cast: Cast, seat: Seat, shot: Shot, faults: Faults) -> None:
    clearance = cast.job("accepted")
    dana = AtDesk(seat(DESK), "dana").sign_in()
    dana.page.goto(f"/desk/clearances/{clearance.pk}/")
    dana.page.get_by_text("Plan a change").click()
    dana.press("Set a new switch in a span")
    dana.form.get_by_label("Number of the span").fill("L-214-215")
    dana.form.get_by_label("Number of the device").fill("N-15")
    shot(dana.page, "plan-change")
    assert not faults(dana.page)
    dana.form.get_by_role("button", name="Add it to the plan").click()
    dana.sees("set gang switch N-15 in span L-214-215, normally open")
    # The tap can't be moved while the tie to the neighbour normally stands closed: it is said why.
    dana.page.goto(f"/do/plan_change/?clearance={clearance.pk}&change=move_transformer")
    dana.form.get_by_label("Number of the transformer").fill("T-217")
    dana.form.get_by_role("checkbox", name="phase C").check()
    dana.form.get_by_role("button", name="Add it to the plan").click()
    dana.sees("expected a tie of like phases")
    shot(dana.page, "plan-refused")
    dana.page.goto(f"/desk/clearances/{clearance.pk}/")
    dana.sees("Change set", within="Changes of the network")
    shot(dana.page, "desk-clearance", whole=True)

    ana = OnPhone(seat(PHONE), "ana").sign_in()
    ana.page.goto(f"/field/clearances/{clearance.pk}/")
    shot(ana.page, "phone-sheet", whole=True)
    assert not faults(ana.page)
    ana.press("Confirm as built")
    row = ChangeSet.objects.get()
    shot(ana.page, "phone-confirm")
    ana.form.get_by_role("checkbox").first.check()
    for _ in range(3):
        ana.press("Next")
    shot(ana.page, "phone-confirm-last")
    ana.form.get_by_role("button", name="Confirm as built").click()
    ana.sees("is built: set gang switch N-15")
    row.refresh_from_db()
    assert row.state == "confirmed"
    assert Device.objects.get(pk="N-15").normal_position == "open"

    jon = AtDesk(seat(DESK), "jon").sign_in()
    jon.press("As left")
    jon.sees("confirmed as built, not surveyed")
    shot(jon.page, "as-left", whole=True)
    assert not faults(jon.page)
    jon.press("Surveyed")
    jon.form.get_by_label("Why").fill("seen on the line, drawn on the map")
    jon.form.get_by_role("button", name="Surveyed").click()
    jon.sees("is surveyed: seen on the line, drawn on the map.")
