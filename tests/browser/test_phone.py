"""The phone in the rain: the session ends, the signal goes, the thumb presses twice."""

from playwright.sync_api import expect

from clearances.models import LogEntry
from tests.cast import Cast

from .conftest import DESK, PHONE, Seat
from .people import AtDesk, OnPhone

SEEN = "A wire hangs low at P-216"


def typed(ana: OnPhone) -> None:
    """A remark is written and all questions are answered; it is not sent yet."""
    ana.press("Tell the desk")
    ana.form.get_by_label("In your own words").fill(SEEN)
    ana.press("Next")
    ana.press("Next")
    ana.sees("Read it once more, then send it.")


def send(ana: OnPhone) -> None:
    ana.form.get_by_role("button", name="Tell the desk").click()


def remarks() -> int:
    return LogEntry.objects.filter(verb="remark", words__contains=SEEN).count()


def test_what_was_typed_survives_a_session_that_ended(cast: Cast, seat: Seat) -> None:
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    typed(ana)
    ana.page.context.clear_cookies(name="sessionid")
    send(ana)
    ana.page.get_by_label("Log-in name").fill("ana")
    ana.page.get_by_label("Password").fill(ana.member.password)
    ana.press("Sign in")
    ana.sees("is back. The board has not confirmed it: look at it and send it.")
    expect(ana.form.get_by_label("In your own words")).to_have_value(SEEN)
    assert remarks() == 0
    ana.press("Next")
    ana.press("Next")
    send(ana)
    ana.told(SEEN)
    assert remarks() == 1
    # The board has confirmed it: it does not come back again.
    ana.press("Tell the desk")
    expect(ana.form.get_by_label("In your own words")).to_have_value("")


def test_nobody_else_gets_what_was_typed(cast: Cast, seat: Seat) -> None:
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    typed(ana)
    ana.press("Sign out")
    bo = OnPhone(ana.page, "bo").sign_in()
    bo.press("Tell the desk")
    expect(bo.form.get_by_label("In your own words")).to_have_value("")


def test_what_was_typed_survives_a_lost_signal(cast: Cast, seat: Seat) -> None:
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    typed(ana)
    ana.page.context.set_offline(True)
    send(ana)
    expect(ana.form).to_have_count(0)  # the browser's own page: nothing was reached
    ana.page.context.set_offline(False)
    ana.page.go_back()
    ana.press("Tell the desk")
    ana.sees("is back. The board has not confirmed it: look at it and send it.")
    expect(ana.form.get_by_label("In your own words")).to_have_value(SEEN)
    ana.press("Next")
    ana.press("Next")
    send(ana)
    ana.told(SEEN)
    assert remarks() == 1


def test_a_press_that_is_made_twice_counts_once(cast: Cast, seat: Seat) -> None:
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    typed(ana)
    ana.form.get_by_role("button", name="Tell the desk").dblclick()
    ana.told(SEEN)
    assert remarks() == 1


def test_the_same_form_sent_again_counts_once(cast: Cast, seat: Seat) -> None:
    """The answer to the first sending was lost; the same form goes again, with the key that it had."""
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    typed(ana)
    lost = ana.page.context.new_page()
    key = ana.form.locator("input[name=key]").input_value()
    lost.goto(ana.page.url)
    lost.get_by_label("In your own words").fill(SEEN)
    lost.locator("input[name=key]").evaluate("(input, key) => { input.value = key; }", key)
    lost.get_by_role("button", name="Next").click()
    lost.get_by_role("button", name="Next").click()
    lost.get_by_role("article").get_by_role("button", name="Tell the desk").click()
    expect(lost.get_by_role("status").filter(has_text=SEEN)).to_be_visible()
    send(ana)
    ana.told(SEEN)
    assert remarks() == 1


def test_a_page_that_no_longer_hears_says_so(cast: Cast, seat: Seat) -> None:
    job = cast.job("working")
    for someone, address, words in (
        (OnPhone(seat(PHONE), "ana"), f"/field/clearances/{job.pk}/", "Call the desk before you rely on it."),
        (AtDesk(seat(DESK), "dana"), "/desk/", "Use the telephone until it does."),
    ):
        someone.page.clock.install()
        someone.sign_in()
        someone.page.goto(address)
        someone.sees("Ana Duarte")
        expect(someone.page.get_by_role("alert")).to_be_hidden()
        someone.page.context.set_offline(True)
        # An open stream outlives the lost signal here, and would say that the board lives: close it too.
        someone.page.evaluate("window.stop()")
        someone.page.clock.run_for(52_000)
        expect(someone.page.get_by_role("alert")).to_contain_text(
            "This page has not heard from the board since"
        )
        expect(someone.page.get_by_role("alert")).to_contain_text(words)
