"""The network's pages before a browser: the map, the drawing of a circuit, and finding things."""

import re

import pytest
from playwright.sync_api import Page, Request, expect

from tests.cast import Cast

from .conftest import PHONE, Seat
from .people import AtDesk, OnPhone


def on_the_map(page: Page, address: str = "/desk/map/") -> None:
    page.goto(address)
    expect(page.locator("#map")).to_have_attribute("data-drawn", "")


def press_beside_the_middle(page: Page, right: int = 0) -> None:
    """Press on the map, so many pixels to the right of its middle."""
    place = page.locator("#map").bounding_box()
    assert place
    page.mouse.click(place["x"] + place["width"] / 2 + right, place["y"] + place["height"] / 2)


def test_the_map_tells_positions_tags_and_clearances_and_leads_to_a_device(cast: Cast, seat: Seat) -> None:
    job = cast.job("working")
    page = AtDesk(seat(), "dana").sign_in().page
    on_the_map(page)
    expect(page.locator(".mark.held")).to_have_text(re.compile(rf"^{job.pk} · Duarte · \d on$"))
    # By the keyboard alone: from label to label.
    device = page.get_by_role("link", name=f"C-208 A B C open · tag {job.pk}-1", exact=True)
    page.locator("#map canvas").focus()
    for _ in range(20):
        page.keyboard.press("Tab")
        if device.evaluate("link => link === document.activeElement"):
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="C-208")).to_be_visible()
    expect(page.get_by_role("region", name="Device tags on it: 1")).to_contain_text("Ana Duarte")


def test_a_press_on_a_line_says_its_phases_and_on_a_device_goes_to_its_page(cast: Cast, seat: Seat) -> None:
    cast.job("working")
    page = AtDesk(seat(), "dana").sign_in().page
    on_the_map(page, "/desk/map/#pole-P-213")
    press_beside_the_middle(page, right=40)
    expect(page.locator("#map-here")).to_have_text(
        "P-213 to P-214, Quarry Lane, feeder 12. A, B, C: de-energized by report."
    )
    press_beside_the_middle(page)
    expect(page).to_have_url(re.compile("/desk/devices/F-213/$"))


def test_the_map_renews_itself_and_says_when_it_can_not(cast: Cast, seat: Seat) -> None:
    job = cast.job("told")
    page = AtDesk(seat(), "dana").sign_in().page
    on_the_map(page)
    first = cast.steps(job, "isolate")[0]
    cast.give_step(job, first)
    cast.report_step(first)
    expect(page.get_by_role("link", name=f"C-208 A B C open · tag {job.pk}-1", exact=True)).to_be_visible()
    page.route("**/desk/map/state/", lambda route: route.abort())
    cast.give_step(job, cast.steps(job, "isolate")[1])
    expect(page.locator("#map-said")).to_have_text(
        re.compile(r"could not be renewed at \d\d:\d\d: it may be old")
    )


@pytest.mark.parametrize("script", [True, False])
def test_without_a_map_the_lists_say_the_same(cast: Cast, seat: Seat, script: bool) -> None:
    job = cast.job("working")
    page = AtDesk(seat(java_script_enabled=script), "dana").sign_in().page
    if script:
        page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto("/desk/map/")
    expect(page.get_by_text("the lists say the same", exact=False)).to_be_visible()
    beside = page.get_by_role("complementary")
    expect(beside).to_contain_text("energized; de-energized by report")
    expect(beside).to_contain_text(re.compile(rf"{job.pk} · Duarte · \d on"))
    expect(beside).to_contain_text(f"P-208, Quarry Lane: A B C open; device tags {job.pk}-1")


def test_what_is_found_is_unfolded_marked_and_stays_so(cast: Cast, seat: Seat) -> None:
    page = AtDesk(seat(), "dana").sign_in().page
    page.goto("/desk/map/")
    page.get_by_role("searchbox").fill("t-253")
    page.keyboard.press("Enter")
    found = page.get_by_role("region", name="Transformers").get_by_role("link", name="T-253")
    found.focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/desk/circuits/12/#transformer-T-253$"))
    place = page.locator("#transformer-T-253")
    expect(place).to_be_in_viewport()
    page.get_by_text("The same in sentences").first.click()
    with page.expect_response(lambda answer: answer.url.endswith("/desk/circuits/12/")):
        cast.asked(holder=cast.bo, from_pole="P-283", to_pole="P-285", phases="A", work="Trim trees")
    # Renewed, and as unfolded and as marked as before.
    expect(page.locator("#transformer-T-253[data-found]")).to_be_in_viewport()
    expect(page.locator("#sentences-1")).to_have_attribute("open", "")


def test_a_quiet_lateral_is_unfolded_without_a_script(cast: Cast, seat: Seat) -> None:
    page = AtDesk(seat(java_script_enabled=False), "dana").sign_in().page
    page.goto("/desk/circuits/12/")
    lateral = page.locator("#part-3")
    expect(lateral.get_by_text("P-251", exact=True)).to_be_hidden()
    lateral.locator("summary").first.click()
    expect(lateral.get_by_text("P-251", exact=True)).to_be_visible()


def test_a_page_on_which_nothing_renews_itself_asks_for_nothing(cast: Cast, seat: Seat) -> None:
    """An error that renewed itself would be asked for again and again, and show a fresh hour."""
    dana, ana = AtDesk(seat(), "dana").sign_in(), OnPhone(seat(PHONE), "ana").sign_in()
    pages = [
        (seat(), "/sign-in"),
        (dana.page, "/desk/clearances/9999/"),
        (dana.page, "/desk/people/"),
        (ana.page, "/desk/"),
        (ana.page, "/no/such/page"),
    ]
    asked: list[str] = []

    def ask(request: Request) -> None:
        asked.append(request.url)

    for page, _ in pages:
        page.clock.install()
    for page, address in pages:
        page.goto(address, wait_until="networkidle")
        asked.clear()
        page.on("request", ask)
        page.clock.run_for(90_000)
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        page.wait_for_timeout(300)
        page.remove_listener("request", ask)
        assert asked == [], address
    # The desk's own page does ask.
    with dana.page.expect_request("**/live/"):
        dana.page.goto("/desk/")
