"""Calls, and the field's word of what customers have: S34, S44, S55. What each asks for is said here."""

import datetime
from typing import Any

from django.utils import timezone

from clearances import flags
from clearances.calls import nearest_open
from clearances.models import Call, Clearance, Trouble
from clearances.services import calls, reporting, switching, troubles
from clearances.templatetags.board import clock
from tests.cast import Cast, done

from .looking import acts, look
from .plays import Tap
from .said import codes

OUTSIDE = ("call_outside", "connectivity")


def flagged(*codes: str) -> list[tuple[str, str]]:
    found = [raised.flag for raised in flags.current()]
    return [(flag.code, flag.text) for flag in found if flag.code in codes]


def call(cast: Cast, kind: str = "out", **said: str) -> Call:
    entry = done(calls.take_call(cast.who(cast.mira), kind=kind, **said)).entry
    return Call.objects.get(entry=entry)


def test_s34_calls_from_outside_the_planned_area(cast: Cast) -> None:
    """Given the demo's job is out, a caller who is on no list is out: customer service records it in one
    line, the desk sees it with the nearest device that stands open, and the second flags the connectivity."""
    cast.job("isolated")
    first = call(cast, premises="1097")
    assert first.outside
    assert first.entry.irregular == "Out, and in no planned work and no known trouble."
    home = first.premises
    assert home
    assert first.device_id == nearest_open(home, "")
    assert first.device_id in ("C-208", "C-221", "D-212", "D-219")
    assert flagged(*OUTSIDE) == [
        (
            "call_outside",
            f"1 call outside the planned area, nearest device {first.device_id}: {home.address}.",
        )
    ]
    needs = look(cast.dana, "/desk/").context["needs"]
    assert any(f"nearest device {first.device_id}" in need["text"] for need in needs)

    second = call(cast, premises="1098")
    assert second.device_id == first.device_id
    ((code, text),) = flagged(*OUTSIDE)
    assert code == "connectivity"
    assert text.startswith(f"2 calls outside the planned area, nearest device {first.device_id}: ")
    for one in (first, second):
        who = cast.who(cast.dana)
        done(reporting.answer_irregular(who, entry=one.entry_id, answer="Their own main breaker."))
    assert flagged(*OUTSIDE) == []


def test_s34_an_address_that_is_not_on_the_map(cast: Cast) -> None:
    cast.job("isolated")
    one = call(cast, place="the new house, 99 Quarry Lane", words="out since nine")
    assert (one.premises, one.outside) == (None, True)
    assert one.device_id in ("C-208", "C-221", "D-212", "D-219")
    assert call(cast, place="nobody knows where").device is None


def test_a_caller_on_the_list_is_not_outside(cast: Cast) -> None:
    clearance = cast.job("isolated")
    planned = clearance.affected.order_by("pk")[0].premises_id
    assert not call(cast, premises=planned).outside
    done(reporting.report_position(
        cast.who(cast.sal), device="C-280", phases="ABC", position="open", done_at=timezone.now()
    ))  # fmt: skip
    trouble = Trouble.objects.get()
    known = call(cast, premises=trouble.interruptions.order_by("pk")[0].premises_id)
    assert not known.outside
    assert known.entry.irregular == ""
    assert known.entry.words.endswith(f"It is in trouble {trouble.pk}.")
    assert flagged(*OUTSIDE) == []


def test_s44_why_am_i_out(cast: Cast) -> None:
    """A caller is told apart as planned, in a known trouble, or in neither: then the main breaker first."""
    clearance = cast.job("isolated")
    planned = clearance.affected.order_by("pk")[0].premises_id
    done(reporting.report_position(
        cast.who(cast.sal), device="C-280", phases="ABC", position="open", done_at=timezone.now()
    ))  # fmt: skip
    trouble = Trouble.objects.get()
    one = trouble.interruptions.order_by("pk")[0].premises_id
    back = timezone.now() + datetime.timedelta(hours=2)
    said: dict[str, Any] = {"trouble": trouble.pk, "back_by": back, "next_word_at": back}
    done(troubles.say_cause(cast.who(cast.dana), trouble=trouble.pk, version=1, cause="a limb on the line"))
    done(troubles.send_crew(cast.who(cast.dana), trouble=trouble.pk, version=2, crew="Tom Weir"))

    assert "planned work." in look(cast.mira, f"/service/?premises={planned}").text
    before = look(cast.mira, f"/service/?premises={one}").context["answer"]
    assert (before["say"], before["back"]) == ("", "No time is known yet.")
    done(troubles.promise_power_back(cast.who(cast.dana), version=3, **said))
    page = look(cast.mira, f"/service/?premises={one}")
    answer = page.context["answer"]
    hhmm = clock(back)
    assert answer["headline"].endswith("unplanned: a known trouble.")
    assert answer["back"] == f"Power back by {hhmm}."
    assert answer["more"].startswith(f"A limb on the line. Next to be said by {hhmm}.")
    assert answer["say"].startswith(
        f"Your power is off, and it is not planned work. We expect it back by {hhmm}."
    )
    assert "Weir" not in page.text
    assert "C-280" not in page.text
    neither = look(cast.mira, "/service/?premises=1097")
    assert "ask them to look at their main breaker" in neither.text
    assert len(acts(neither, "take_call")) == 3


def test_s55_a_lost_neutral(tap: Tap) -> None:
    """Given half the houses are bright and half dim after the work: the caller is told to turn off the main,
    the desk sees it by transformer, and the restore stops until somebody has asked about the neutral."""
    clearance = tap.job("released")
    home = clearance.affected.order_by("pk")[0].premises
    page = look(tap.mira, f"/do/take_call/?premises={home.pk}&kind=half")
    assert "Turn your main switch off, and leave it off until we have been." in page.text
    one = call(tap, "half", premises=home.pk)
    assert one.transformer_id == home.transformer_id
    ((_, text),) = flagged("lost_neutral")
    assert text.startswith(f"Half bright, half dim behind {home.transformer_id}, 1 call ({home.address})")
    order = Clearance.objects.get().order
    assert order.state == "paused"
    assert "neutral at the cut span" in order.paused_why
    remove = tap.steps(clearance, "restore")[0]
    said: dict[str, Any] = {"given_to": "Sal Moreno", "repeated_back": True}
    version = Clearance.objects.get().version
    assert codes(switching.give_step(tap.who(tap.dana), step=remove.pk, version=version, **said)) == [
        "order_not_checked"
    ]


def test_s55_the_foreman_s_word_does_the_same(tap: Tap) -> None:
    clearance = tap.job("released")
    home = clearance.affected.order_by("pk")[0].premises
    pole = home.transformer.structure_id
    assert pole
    now = timezone.now()
    done(calls.report_half_bright(tap.who(tap.ana), place=pole, done_at=now))
    assert Call.objects.get().transformer_id == home.transformer_id
    assert Clearance.objects.get().order.state == "paused"
    version = Clearance.objects.get().version
    who = tap.who(tap.dana)
    done(switching.resume_order(who, clearance=clearance.pk, version=version, why="the neutral is whole"))
    entry = done(calls.report_half_bright(tap.who(tap.ana), place="the barn", done_at=now)).entry
    assert entry.irregular.endswith("the barn is neither a transformer nor its pole on the network.")
    assert Clearance.objects.get().order.state == "paused"  # nobody knows where: every restore stops


def test_a_call_of_another_kind_is_no_call(cast: Cast) -> None:
    assert codes(calls.take_call(cast.who(cast.mira), kind="late", place="x")) == ["unknown_word"]
    assert codes(calls.take_call(cast.who(cast.ana), kind="out", place="x")) == ["role"]
    wire = call(cast, "wire", place="behind the mill")
    assert wire.entry.irregular == "A wire on the ground: behind the mill."
    assert not wire.outside
