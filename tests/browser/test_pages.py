"""Every page at the sizes it is used at, by day and by night, with data and without; by keyboard, and without
scripts."""

import re
from collections.abc import Iterable
from typing import Literal

import pytest
from playwright.sync_api import Page, expect

from clearances.models import Clearance, Step
from tests.cast import Cast

from .conftest import DESK, PHONE, Faults, Seat
from .people import AtDesk, OnPhone, Value, put

SMALL_DESK = (1024, 768)
SIZES = (DESK, SMALL_DESK, PHONE)
LIGHTS: tuple[Literal["light", "dark"], ...] = ("light", "dark")


def look(page: Page, address: str, faults: Faults) -> list[str]:
    """What is wrong with a page, by size and light: wider than its window, or a fault of access."""
    found = []
    page.goto(address)
    for drawn in page.locator("#map").all():
        expect(drawn).to_have_attribute("data-drawn", "")
    for light in LIGHTS:
        page.emulate_media(color_scheme=light)
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            over = page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            where = f"{address} {light} {width}x{height}"
            if over > 0:
                found.append(f"{where}: {over} pixels wider than the window")
            # The middle size has nothing of its own, and by night nothing differs but the colours.
            if (width, height) != SMALL_DESK:
                rules = ["color-contrast"] if light == "dark" else []
                found += [f"{where}: {fault}" for fault in faults(page, rules)]
    return found


def none(found: Iterable[str]) -> None:
    """Nothing is wrong, else all of it is said, a line each."""
    said = "\n".join(found)
    assert not said, said


@pytest.fixture
def stages(cast: Cast) -> tuple[Clearance, Clearance, Clearance]:
    """A job on the line, one whose first step is half reported, one that is a plan."""
    on_the_line = cast.job("working")
    begun = cast.bring(cast.asked(holder=cast.bo, from_pole="P-231", to_pole="P-232"), "asked")
    planned = cast.asked(holder=cast.bo, from_pole="P-283", to_pole="P-285", phases="A", work="Trim trees")
    return on_the_line, begun, planned


def test_the_desk(cast: Cast, stages: tuple[Clearance, ...], seat: Seat, faults: Faults) -> None:
    dana = AtDesk(seat(), "dana").sign_in()
    one, _, plan = stages
    addresses = [
        "/desk/",
        f"/desk/clearances/{one.pk}/",
        f"/desk/clearances/{plan.pk}/",
        "/desk/notices/",
        f"/desk/clearances/{plan.pk}/plans/",
        f"/desk/clearances/{one.pk}/rehearsal/?at=3",
        f"/desk/clearances/{one.pk}/rehearsal/slips/",
        f"/do/choose_points/?clearance={plan.pk}",
        f"/do/release_clearance/?clearance={one.pk}",
        f"/desk/clearances/{one.pk}/order/",
        f"/desk/clearances/{one.pk}/sheet/",
        f"/desk/clearances/{one.pk}/tags/",
        "/desk/clearances/9999/",
    ]
    none(fault for address in addresses for fault in look(dana.page, address, faults))


def test_the_phone(cast: Cast, stages: tuple[Clearance, ...], seat: Seat, faults: Faults) -> None:
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    one, *_ = stages
    addresses = [
        "/field/",
        f"/field/clearances/{one.pk}/",
        "/do/ask_for_clearance/",
        f"/do/report_test/?clearance={one.pk}&result=present",
        f"/do/sign_off/?clearance={one.pk}",
        "/desk/",
    ]
    none(fault for address in addresses for fault in look(ana.page, address, faults))


def test_customer_service(cast: Cast, stages: tuple[Clearance, ...], seat: Seat, faults: Faults) -> None:
    mira = AtDesk(seat(), "mira").sign_in()
    addresses = [
        "/service/",
        "/service/?q=quarry",
        "/service/?q=nobody+at+all",
        "/service/?premises=1141",
        "/service/?premises=1030",
        "/do/remark/?about=22+Quarry+Lane",
    ]
    none(fault for address in addresses for fault in look(mira.page, address, faults))


def test_the_network(cast: Cast, stages: tuple[Clearance, ...], seat: Seat, faults: Faults) -> None:
    dana = AtDesk(seat(), "dana").sign_in()
    addresses = [
        "/desk/circuits/12/?all=1",
        "/desk/devices/C-208/?operation=close&phases=A",
        "/desk/map/#device-C-208",
        "/desk/find/?q=217",
        "/desk/find/?q=no+such+thing",
    ]
    none(fault for address in addresses for fault in look(dana.page, address, faults))


def test_the_people(cast: Cast, seat: Seat, faults: Faults) -> None:
    ruth = AtDesk(seat(), "ruth").sign_in()
    none(look(ruth.page, "/desk/people/", faults))


def test_with_nothing_on_the_board(cast: Cast, seat: Seat, faults: Faults) -> None:
    dana = AtDesk(seat(), "dana").sign_in()
    found = [
        fault for at in ("/desk/", "/desk/notices/", "/sign-in") for fault in look(dana.page, at, faults)
    ]
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    none(found + look(ana.page, "/field/", faults))


def test_a_step_is_given_with_the_keyboard_alone(cast: Cast, seat: Seat) -> None:
    job = cast.job("told")
    dana = AtDesk(seat(), "dana").sign_in()
    page = dana.page
    page.wait_for_load_state()  # until the scripts run, a link leads to a page of its own

    def reach(name: str) -> None:
        """Tab on until the control with this name has the keyboard."""
        for _ in range(60):
            page.keyboard.press("Tab")
            here = page.locator(":focus")
            said = here.evaluate("element => (element.labels?.[0] || element).innerText")
            if said.strip().startswith(name):
                return
        raise AssertionError(f"The keyboard does not reach «{name}»")

    reach("Give step 1")
    page.keyboard.press("Enter")
    # The question opens on this page, and the keyboard is taken there.
    expect(page.get_by_role("heading", name=re.compile("^Give the step"))).to_be_focused()
    reach("Given to")
    page.keyboard.type("Ana Duarte")
    reach("Repeated back, and correct")
    page.keyboard.press("Space")
    reach("Give the step")
    page.keyboard.press("Enter")
    dana.told("Step 1 given to Ana Duarte")
    assert Step.objects.filter(order=job.pk, state="given").count() == 1


def test_an_act_needs_no_script(cast: Cast, seat: Seat) -> None:
    job = cast.job("told")
    dana = AtDesk(seat(java_script_enabled=False), "dana").sign_in()
    dana.press("Give step 1")
    dana.send({"Given to": "Ana Duarte"}, press="Give the step")
    dana.refused("Ana Duarte has not repeated the step back.")
    dana.send({"Repeated back, and correct": True}, press="Give the step")
    dana.told("Step 1 given to Ana Duarte")
    ana = OnPhone(seat(PHONE, java_script_enabled=False), "ana").sign_in()
    ana.press("I have done it")
    done: dict[str, Value] = {
        "Done on": ["phase A", "phase B", "phase C"],
        "Made inoperable how": "barrels out, secured",
        f"Tag {job.pk}-1 hung": True,
    }
    for label, value in done.items():
        put(ana.form, label, value)
    ana.form.get_by_role("button", name="Done as ticked").click()
    ana.told("C-208")
    assert Step.objects.get(order=job.pk, half="isolate", place=1).state == "reported"


def test_nothing_closes_at_a_point_that_carries_anothers_tag(cast: Cast, seat: Seat) -> None:
    """S09: two clearances hold C-221 open; the first is released, the other's tag refuses the close."""
    first = cast.job("accepted")
    second = cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211", work="Replace an insulator")
    cast.bring(second, "accepted")
    cast.release(first)
    (remove_tag, *_) = cast.steps(first, "restore")
    cast.give_step(first, remove_tag)
    cast.report_step(remove_tag)
    dana = AtDesk(seat(), "dana").sign_in()
    dana.press("Give step 6")
    dana.send({"Given to": "Sal Moreno", "Repeated back, and correct": True}, press="Give the step")
    dana.refused(
        f"C-221 can't be ordered closed: tag {second.pk}-2 is on it (clearance {second.pk}, Bo Lindqvist"
    )
    assert not Step.objects.filter(state="given").exists()


def test_a_press_is_not_lost_when_the_page_renews_itself_under_it(cast: Cast, seat: Seat) -> None:
    job = cast.job("told")
    dana = AtDesk(seat(), "dana").sign_in()
    dana.press(str(job.pk))
    link = dana.page.get_by_role("link", name="Take the check back")
    link.hover()
    dana.page.mouse.down()
    with dana.page.expect_response(lambda answer: answer.url.endswith(f"/clearances/{job.pk}/")):
        cast.asked(holder=cast.bo, from_pole="P-283", to_pole="P-285", phases="A", work="Trim trees")
    dana.page.mouse.up()
    expect(dana.form).to_contain_text("Why")
    # What was held back comes after it.
    cast.give_step(job, cast.steps(job, "isolate")[0])
    dana.sees("Report step 1")
