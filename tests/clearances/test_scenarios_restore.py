"""Scenarios of putting power back: given, when, then. The numbers are those of the list that this board was
designed by; what each asks for is said here.
"""

import datetime
from typing import Any

from django.utils import timezone

from clearances import early, flags
from clearances.models import Clearance, Interruption, Step
from clearances.services import switching
from clearances.services.verb import Outcome
from notifications.models import Notice
from tests.cast import Cast, done

from .looking import look
from .said import codes, texts


def order_step(cast: Cast, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=step.order_id).version
    said: dict[str, Any] = {"version": version, "given_to": "Sal Moreno", "repeated_back": True}
    return switching.give_step(cast.who(cast.dana), step=step.pk, **said)


def flagged(code: str) -> list[str]:
    return [one.flag.text for one in flags.current() if one.flag.code == code]


class TestS08WorkFinishesEarly:
    """Ana releases hours before the end that the customers were told."""

    def test_it_is_restored_and_whoever_was_promised_hours_is_named(self, cast: Cast) -> None:
        clearance = cast.job("released")
        until = f"{timezone.localtime(clearance.promised_end):%H:%M}"
        machines = "inverter INV-212 at 14 Quarry Lane; standby generator GEN-219 at 41 Quarry Lane"
        told = (
            f"Order {clearance.pk} puts power back earlier than told: 62 customers were told until {until}. "
            f"Before the first close reach whoever has a machine that may run until then: {machines}."
        )
        assert flagged("back_early") == [told]
        assert f"Earlier than told. {told}" in look(cast.dana, "/desk/").text
        first = cast.steps(clearance, "restore")[0]
        assert told in look(cast.dana, f"/do/give_step/?step={first.pk}").text
        sheet = look(cast.ana, f"/field/clearances/{clearance.pk}/").text
        assert f"Standby generator GEN-219 at 41 Quarry Lane, told off until {until}" in sheet

        done(order_step(cast, first))  # a warning refuses nothing
        cast.report_step(first)
        cast.restore(clearance)
        assert not Interruption.objects.filter(on_at=None).exists()
        assert Notice.objects.filter(fact__endswith=":back").exists()
        assert flagged("back_early") == []

    def test_on_time_nothing_is_said(self, cast: Cast) -> None:
        clearance = cast.job("released")
        soon = timezone.now() + datetime.timedelta(minutes=14)
        clearance.affected.update(back_by=soon)
        assert early.of(clearance) is None
        clearance.affected.update(back_by=None)  # nobody was told an hour
        assert early.of(clearance) is None

    def test_before_the_release_nothing_is_said(self, cast: Cast) -> None:
        assert early.of(cast.job("working")) is None
