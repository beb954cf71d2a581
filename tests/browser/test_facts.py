"""Customers out, the facts in one line, and what a phone says of its own time, as people meet them."""

import datetime

from django.utils import timezone
from playwright.sync_api import expect

from clearances.models import Clearance, LogEntry, Step, Trouble
from clearances.services import calls, seen, troubles
from tests.cast import Cast, done

from .conftest import PHONE, Faults, Seat, Shot
from .people import AtDesk, OnPhone
from .test_pages import look, none


def bad_morning(cast: Cast) -> Clearance:
    """The demo's job is on the line, C-280 was opened in an emergency, and two callers are on no list."""
    clearance = cast.job("working")
    done(seen.open_now(cast.who(cast.bo), device="C-280", phases="ABC"))
    trouble = Trouble.objects.get()
    back = timezone.now() + datetime.timedelta(hours=2)
    done(troubles.say_cause(cast.who(cast.dana), trouble=trouble.pk, version=1, cause="a car on a pole"))
    done(
        troubles.promise_power_back(
            cast.who(cast.dana),
            trouble=trouble.pk,
            version=2,
            back_by=back,
            next_word_at=back - datetime.timedelta(hours=1),
        )
    )
    for premises in ("1097", "1098"):
        done(calls.take_call(cast.who(cast.mira), kind="out", premises=premises))
    cast.test(clearance, result="present")
    return clearance


def test_the_desk_on_a_bad_morning(cast: Cast, seat: Seat, faults: Faults, shot: Shot) -> None:
    bad_morning(cast)
    opened = LogEntry.objects.get(verb="open_now").number
    voltage = LogEntry.objects.latest("number").number
    dana = AtDesk(seat(), "dana").sign_in()
    addresses = {
        "out": "/desk/out/",
        "board": "/desk/",
        "answer": f"/do/answer_irregular/?entry={opened}",
        "voltage": f"/do/answer_irregular/?entry={voltage}",
        "promise": f"/do/promise_power_back/?trouble={Trouble.objects.get().pk}",
        "call": "/do/take_call/",
    }
    none(fault for address in addresses.values() for fault in look(dana.page, address, faults))
    dana.page.set_viewport_size({"width": 1440, "height": 900})
    for name, address in addresses.items():
        dana.page.goto(address)
        shot(dana.page, name)


def test_customer_service_on_a_bad_morning(cast: Cast, seat: Seat, faults: Faults, shot: Shot) -> None:
    bad_morning(cast)
    one = Trouble.objects.get().interruptions.order_by("pk")[0].premises_id
    mira = AtDesk(seat(), "mira").sign_in()
    addresses = {"known": f"/service/?premises={one}", "half": f"/do/take_call/?premises={one}&kind=half"}
    none(fault for address in addresses.values() for fault in look(mira.page, address, faults))
    mira.page.set_viewport_size({"width": 1440, "height": 900})
    for name, address in addresses.items():
        mira.page.goto(address)
        shot(mira.page, name)


def test_the_phone_says_its_own_time_with_a_report(
    cast: Cast, seat: Seat, faults: Faults, shot: Shot
) -> None:
    clearance = cast.job("told")
    step = cast.steps(clearance, "isolate")[0]
    cast.give_step(clearance, step)
    sal = OnPhone(seat(PHONE), "sal").sign_in()
    addresses = {
        "home": "/field/",
        "wrong": f"/do/report_wrong_device/?step={step.pk}",
        "stuck": f"/do/report_stuck/?step={step.pk}",
        "open": "/do/open_now/",
        "blown": "/do/report_blown/?device=C-221",
    }
    none(fault for address in addresses.values() for fault in look(sal.page, address, faults))
    sal.page.set_viewport_size({"width": 390, "height": 844})
    for name, address in addresses.items():
        sal.page.goto(address)
        shot(sal.page, name)
    for number in (1, 2):
        sal.page.goto("/do/remark/")
        sal.page.get_by_label("In your own words").fill("a limb on the line")
        while sal.page.get_by_role("button", name="Next").is_visible():
            sal.page.get_by_role("button", name="Next").click()
        sal.page.get_by_role("button", name="Tell the desk").click()
        expect(sal.page.get_by_text("a limb on the line").first).to_be_visible()
        said = LogEntry.objects.filter(verb="remark").latest("number").data["phone_clock"]
        assert (said["sequence"], said["late"]) == (number, False)
    assert Step.objects.get(pk=step.pk).state == "given"
