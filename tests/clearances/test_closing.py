"""Whom a close would put voltage on, or keep it on: asked before any close is ordered."""

from django.utils import timezone

from clearances import at_device
from clearances.models import Clearance
from clearances.services import on_the_line, reporting
from tests.cast import Cast, done

from .plays import Tap

UPSTREAM = "B-12"  # the breaker of feeder 12, which feeds the tap over C-233


def stands(cast: Cast, device: str, phases: str, position: str) -> None:
    who, now = cast.who(cast.sal), timezone.now()
    done(reporting.report_position(who, device=device, phases=phases, position=position, done_at=now))


def ground(cast: Cast, clearance: Clearance, pole: str) -> None:
    who, now = cast.who(cast.ana), timezone.now()
    done(on_the_line.ground_on(who, clearance=clearance.pk, label="G3", pole=pole, phases="B", done_at=now))


def hit(device: str, phases: str) -> list[str]:
    return [found.what for found in at_device.hits_of_closing(device, phases)]


def test_a_close_elsewhere_hits_nobody(tap: Tap) -> None:
    ground(tap, tap.job("tested"), "P-252")
    assert hit(UPSTREAM, "ABC") == []


def test_who_is_energized_on_the_board_already_is_hit_all_the_same(tap: Tap) -> None:
    """The picture may be wrong, or just have changed: the close would keep the voltage on them."""
    ground(tap, tap.job("tested"), "P-252")
    stands(tap, "C-233", "B", "closed")
    named = ["primary P-251 to P-253, phases B", "ground set G3 at P-252"]
    assert hit("C-233", "B") == named
    assert hit(UPSTREAM, "ABC") == named
    assert hit(UPSTREAM, "AC") == []


def test_a_ground_set_at_a_place_that_nobody_knows_is_hit_by_every_close(tap: Tap) -> None:
    ground(tap, tap.job("tested"), "P-2523")
    ground_set = "ground set G3 at P-2523, a place that is not on the network: it may be here"
    assert hit(UPSTREAM, "ABC") == [ground_set]


def test_a_close_that_is_ordered_counts_as_done(tap: Tap) -> None:
    """Two closes in a row on one way: the second makes the way whole."""
    clearance = tap.job("released")
    untag, close = tap.steps(clearance, "restore")
    tap.give_step(clearance, untag)
    tap.report_step(untag)
    tap.give_step(clearance, close)
    stands(tap, UPSTREAM, "ABC", "open")
    assert hit(UPSTREAM, "ABC") == []
    who = tap.who(tap.ana)
    done(on_the_line.sign_on(who, clearance=clearance.pk, name="Lee Abara", done_at=timezone.now()))
    assert hit(UPSTREAM, "ABC") == ["primary P-251 to P-253, phases B"]


def test_who_signed_on_before_the_giving_is_at_the_briefing(tap: Tap) -> None:
    """On a clearance that is asked, nobody is on the line yet; once it is out, its limits are hit anyhow."""
    clearance = tap.job("told")
    who, now = tap.who(tap.ana), timezone.now()
    done(on_the_line.sign_on(who, clearance=clearance.pk, name="Lee Abara", done_at=now))
    stands(tap, UPSTREAM, "ABC", "open")
    assert hit(UPSTREAM, "ABC") == []
