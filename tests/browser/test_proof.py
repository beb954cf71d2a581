"""The proof of a clearance and its alarm, as they are looked at by day and by night."""

from django.utils import timezone
from playwright.sync_api import expect

from clearances.services import reporting
from tests.cast import Cast, done

from .conftest import DESK, PHONE, Faults, Seat, Shot
from .people import AtDesk, OnPhone
from .test_pages import look, none


def test_the_proof_and_its_alarm(cast: Cast, seat: Seat, shot: Shot, faults: Faults) -> None:
    one = cast.job("working")
    dana = AtDesk(seat(), "dana").sign_in()
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    address = f"/clearances/{one.pk}/proof/"
    none(look(dana.page, address, faults))
    none(look(dana.page, f"/desk/clearances/{one.pk}/proof/", faults))
    for page, name, size in ((dana.page, "desk", DESK), (ana.page, "phone", PHONE)):
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.goto(address)
        shot(page, f"proof-{name}", whole=True)
        shot(page, f"proof-fold-{name}", dark=True)
    dana.page.goto(f"/desk/clearances/{one.pk}/proof/")
    shot(dana.page, "proof-paper", whole=True)

    dana.page.goto("/desk/")
    done(
        reporting.report_position(
            cast.who(cast.sal), device="C-221", phases="B", position="closed", done_at=timezone.now()
        )
    )
    alarm = dana.page.get_by_text(f"The proof of {one.pk} is broken")
    expect(alarm).to_be_visible()  # by itself
    none(look(ana.page, address, faults))
    for page, name, size in ((dana.page, "desk", DESK), (ana.page, "phone", PHONE)):
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.goto(address)
        shot(page, f"proof-broken-{name}", whole=True)
        shot(page, f"proof-broken-fold-{name}", dark=True)
    dana.page.goto("/desk/")
    expect(alarm).to_be_visible()
    shot(dana.page, "proof-alarm-desk")
    ana.page.goto(f"/field/clearances/{one.pk}/")
    shot(ana.page, "proof-alarm-phone")
    ana.page.get_by_role("link", name="Answer the desk").click()
    shot(ana.page, "proof-answer-phone", whole=True)
    ana.page.get_by_label("Yes, everybody is off").check()
    ana.page.locator("form button[type=submit]").last.click()
    expect(alarm).to_have_count(0)
