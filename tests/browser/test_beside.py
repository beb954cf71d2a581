"""A hot-line hold from the phone to the desk and back, and all three kinds on every page that shows them."""

import pytest
from playwright.sync_api import expect

from clearances.models import HotLineHold
from tests.cast import Cast
from tests.clearances.beside import RECLOSER, Elm, a_do_not_operate, a_field_clearance, a_hold, stands

from .conftest import DESK, PHONE, Faults, Seat, Shot
from .people import AtDesk, OnPhone
from .test_pages import look, none


@pytest.fixture
def elm(cast: Cast) -> Elm:
    return Elm.present()


def test_a_hold_is_asked_for_on_the_phone_given_at_the_desk_and_given_back(
    cast: Cast, seat: Seat, shot: Shot
) -> None:
    bo, dana = OnPhone(seat(PHONE), "bo").sign_in(), AtDesk(seat(), "dana").sign_in()
    bo.press("Ask for a hot-line hold")
    shot(bo.page, "asks")
    bo.send(
        {
            "At which breaker or recloser": "r-31",
            "You work from pole": "P-278",
            "To pole": "P-279",
            "Phases": ["phase A", "phase B", "phase C"],
            "The work": "Change an insulator, gloved",
            "Crew": "line 3",
        },
        press="Ask for a hot-line hold",
    )
    number = HotLineHold.objects.get().number
    bo.told(f"asks for hot-line hold {number} at R-31")
    dana.sees(f"Hot-line hold {number} is asked for.", within="Needs you")
    for said in ("reclosing is off", "the hold tag hangs at the control"):
        dana.press("Tell what is done at the device", within="Needs you")
        dana.send({"At the device": said}, press="Tell what is done at the device")
        dana.told(f"hot-line hold {number}")
    dana.press("Give the hot-line hold", within="Needs you")
    shot(dana.page, "gives")
    dana.send(
        {"Your password, Dana Reyes": dana.member.password},
        press=f"Give hot-line hold {number} to Bo Lindqvist",
    )
    dana.told(f"gives hot-line hold {number} to Bo Lindqvist")
    bo.home()
    bo.sees("Given, not accepted")
    bo.act(
        "Accept the hot-line hold",
        {"Read back the device and where you work": "R-31, reclosing off, P-278 to P-279"},
    )
    bo.sees("Accepted")
    dana.sees("RECLOSE OFF, works energized")
    bo.act(
        "Give the hot-line hold back",
        {
            "Everybody is off the conductors and told that reclosing goes back on": True,
            "Your password, Bo Lindqvist": bo.member.password,
        },
    )
    bo.told(f"gives hot-line hold {number} at R-31 back")
    dana.sees("Its tag still hangs at R-31", within="Needs you")
    expect(dana.page.get_by_text("RECLOSE OFF, works energized")).to_have_count(0)


def test_every_page_that_shows_them(elm: Elm, seat: Seat, faults: Faults, shot: Shot) -> None:
    job = elm.bring(elm.asked(holder=elm.ana), "told")
    hold = a_hold(elm)
    kept = a_do_not_operate(elm)
    field = a_field_clearance(elm)
    a_hold(elm, "asked", holder=elm.ana, from_pole="P-276", to_pole="P-277")
    stands(elm, RECLOSER, "open")
    dana, ana = AtDesk(seat(DESK), "dana").sign_in(), OnPhone(seat(PHONE), "ana").sign_in()
    dana.sees("FIELD CLEARANCE, no operator order")
    dana.sees(f"R-31 is open under hot-line hold {hold.number}.", within="Needs you")
    shot(dana.page, "desk", whole=True, dark=True)
    addresses = {
        "desk": "/desk/",
        "device": f"/desk/devices/{RECLOSER}/?operation=close&phases=A&phases=B&phases=C",
        "circuit": "/desk/circuits/14/",
        "plan": f"/do/choose_points/?clearance={job.pk}",
        "clearance": f"/desk/clearances/{job.pk}/",
        "answer": f"/do/answer_hold/?hold={hold.pk}",
        "kept": f"/do/give_back_do_not_operate/?do_not_operate={kept.pk}",
        "keep": "/do/give_do_not_operate/",
        "end": f"/do/end_field_clearance/?field_clearance={field.pk}",
        "start": "/do/start_field_clearance/",
        "tag": f"/desk/holds/{hold.pk}/tag/",
    }
    for name, address in addresses.items():
        dana.page.goto(address)
        shot(dana.page, name, whole=True)
    shot(ana.page, "phone", whole=True)
    none(fault for address in addresses.values() for fault in look(dana.page, address, faults))
    none(look(ana.page, "/field/", faults))
