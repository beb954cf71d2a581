"""A contractor's foreman: what was told to each other is recorded, then his clearance is given."""

from clearances.models import InformationExchange
from tests.cast import Cast
from tests.clearances.plays import Tap
from tests.clearances.test_scenarios_people import of_keel

from .conftest import DESK, PHONE, Faults, Seat, Shot
from .people import AtDesk, OnPhone


def test_it_is_recorded_and_then_given(cast: Cast, seat: Seat, shot: Shot, faults: Faults) -> None:
    tap = Tap.present()
    bo = of_keel(tap, tap.bo)
    clearance = tap.bring(tap.asked(holder=bo), "isolated")
    dana = AtDesk(seat(DESK), "dana").sign_in()
    dana.page.goto(f"/desk/clearances/{clearance.pk}/")
    dana.sees("Bo Lindqvist works for Keel Line Builders, and it is not recorded")
    shot(dana.page, "refused", whole=True)
    dana.press("Record what was told to each other")
    dana.sees("Who spoke for the contractor")
    shot(dana.page, "record")
    assert faults(dana.page) == []
    dana.send(
        {
            "Who spoke for the contractor": "Ivo Brandt",
            "What the utility told": "12.47 kV wye, fed from C-233 alone; a spliced neutral at P-252",
            "What the contractor told": "a bucket truck on the slope below P-253",
        },
        press="Record what was told to each other",
    )
    dana.told(f"records for clearance {clearance.pk} what was told")
    assert InformationExchange.objects.get().recorded_by == tap.dana
    dana.page.goto(f"/do/give_clearance/?clearance={clearance.pk}")
    dana.sees("By Ivo Brandt: a bucket truck on the slope below P-253.")
    shot(dana.page, "give", whole=True)
    dana.send(
        {"Your password, Dana Reyes": dana.member.password},
        press=f"Give clearance {clearance.pk} to Bo Lindqvist",
    )
    phone = OnPhone(seat(PHONE), "bo").sign_in()
    phone.page.goto(f"/do/accept_clearance/?clearance={clearance.pk}")
    phone.sees("By the utility: 12.47 kV wye")
    shot(phone.page, "accept", whole=True)
