"""Customers out without work behind it: a trouble, from the first opening until all are back."""

import datetime
from typing import Any

from django.utils import timezone

from circuits import positions, snapshot
from clearances import effects
from clearances.models import Interruption, Trouble
from clearances.services import reporting, troubles
from clearances.services.verb import Outcome, Stale
from notifications.models import Notice
from tests.cast import Cast, done

from .looking import look
from .said import codes


def report(cast: Cast, device: str, phases: str, position: str = "open", **more: Any) -> Outcome:
    said = {"done_at": timezone.now()} | more
    return reporting.report_position(
        cast.who(cast.sal), device=device, phases=phases, position=position, **said
    )


def out(trouble: Trouble) -> set[str]:
    return set(trouble.interruptions.filter(on_at=None).values_list("premises", flat=True))


def test_an_opening_without_an_order_begins_one_and_closing_ends_it(cast: Cast) -> None:
    began = timezone.now() - datetime.timedelta(minutes=4)
    done(report(cast, "C-280", "ABC", done_at=began))
    trouble = Trouble.objects.get()
    assert (trouble.device_id, trouble.began_at, trouble.cause, trouble.ended_at) == (
        "C-280",
        began,
        "",
        None,
    )
    assert out(trouble) == effects.without_supply(positions.open_phases())
    assert len(out(trouble)) > 10
    done(report(cast, "C-280", "A", "closed"))
    trouble.refresh_from_db()
    assert trouble.ended_at is None
    done(report(cast, "C-280", "BC", "closed"))
    trouble.refresh_from_db()
    assert trouble.ended_at == Interruption.objects.latest("on_at").on_at
    assert not Interruption.objects.filter(on_at=None).exists()


def test_the_next_phase_of_the_same_device_joins_it(cast: Cast) -> None:
    done(report(cast, "C-280", "A"))
    before = out(Trouble.objects.get())
    done(report(cast, "C-280", "B"))
    assert out(Trouble.objects.get()) > before


def test_an_opening_inside_it_joins_it(cast: Cast) -> None:
    """With A out at C-280, a transformer's cutout on another phase behind it takes out whom C-280 feeds."""
    network = snapshot.compiled().network
    all_behind = effects.newly_without({"C-280": "ABC"})
    inside = next(
        (one.id, one.phases)
        for one in network.devices
        if one.id.startswith("F-")
        and 0 < len(effects.newly_without({one.id: one.phases})) < len(all_behind)
        and effects.newly_without({one.id: one.phases}) <= all_behind
        and "A" not in one.phases
    )
    done(report(cast, "C-280", "A"))
    before = out(Trouble.objects.get())
    done(report(cast, *inside))
    assert out(Trouble.objects.get()) > before


def test_an_opening_on_another_feeder_is_another_trouble(cast: Cast) -> None:
    done(report(cast, "C-280", "ABC"))
    done(report(cast, "F-213", "C"))
    assert set(Trouble.objects.values_list("device", flat=True)) == {"C-280", "F-213"}


def test_the_feeder_s_breaker_beyond_it_is_another_trouble(cast: Cast) -> None:
    """The 840 whom the breaker takes out besides are not the trouble of one cutout."""
    done(report(cast, "F-213", "C"))
    done(report(cast, "B-12", "ABC"))
    small, large = Trouble.objects.order_by("pk")
    assert (small.device_id, large.device_id) == ("F-213", "B-12")
    assert len(out(small)) < len(out(large))
    assert not out(small) & out(large)
    done(report(cast, "B-12", "ABC", "closed"))
    large.refresh_from_db()
    assert large.ended_at
    assert out(small)


def test_s40_planned_and_unplanned_stay_apart(cast: Cast) -> None:
    """Given clearance 41 out on feeder 12, feeder 12 locks out: 62 are planned, everybody else is not."""
    clearance = cast.job("working")
    done(report(cast, "B-12", "ABC"))
    planned = Interruption.objects.filter(on_at=None, clearance=clearance)
    unplanned = Interruption.objects.filter(on_at=None, trouble=Trouble.objects.get())
    assert planned.count() == 62
    assert unplanned.count() == 57  # counted in circuits/demo: feeder 12 serves 119
    assert planned.count() + unplanned.count() == len(effects.without_supply(positions.open_phases()))


def test_cause_crew_and_promise(cast: Cast) -> None:
    done(report(cast, "C-280", "ABC"))
    trouble = Trouble.objects.get()
    dana = cast.who
    done(troubles.say_cause(dana(cast.dana), trouble=trouble.pk, version=1, cause="a limb on the line"))
    old = troubles.send_crew(dana(cast.dana), trouble=trouble.pk, version=1, crew="Tom Weir")
    assert isinstance(old, Stale)
    done(troubles.send_crew(dana(cast.dana), trouble=trouble.pk, version=2, crew="Tom Weir"))
    assert codes(troubles.say_cause(dana(cast.mira), trouble=trouble.pk, version=3, cause="x")) == ["role"]
    assert codes(troubles.say_cause(dana(cast.dana), trouble=987, version=3, cause="x")) == ["unknown"]
    trouble.refresh_from_db()
    assert (trouble.cause, trouble.crew, trouble.version) == ("a limb on the line", "Tom Weir", 3)


def test_a_promise_is_told_to_whoever_is_out(cast: Cast) -> None:
    done(report(cast, "C-280", "ABC"))
    trouble = Trouble.objects.get()
    now = timezone.now()
    said: dict[str, Any] = {"trouble": trouble.pk, "say": "A limb fell on the line in Chapel Row."}
    early = troubles.promise_power_back(cast.who(cast.dana), version=1, back_by=now, **said)
    assert codes(early) == ["promise_past"]
    for version, hours in ((1, 1), (2, 3)):
        back = now + datetime.timedelta(hours=hours)
        who = cast.who(cast.dana)
        done(troubles.promise_power_back(who, version=version, back_by=back, **said))
    told = Notice.objects.filter(fact__startswith=f"trouble:{trouble.pk}:")
    by_mail = told.filter(state="waiting")
    assert by_mail.count() == told.filter(state="superseded").count() > 0
    first = by_mail[0]
    assert first.subject == f"Power back by {timezone.localtime(back):%H:%M}"
    assert "Tom Weir" not in first.body
    from clearances.notices import still_true

    assert still_true(first.fact, first.about) == ""
    older = told.filter(state="superseded")[0]
    assert still_true(older.fact, older.about) == "The customers were told something newer."
    done(report(cast, "C-280", "ABC", "closed"))
    assert still_true(first.fact, first.about).startswith("The power came back at ")
    trouble.refresh_from_db()
    later = troubles.promise_power_back(
        cast.who(cast.dana), version=3, back_by=now + datetime.timedelta(hours=4), **said
    )
    assert codes(later) == ["trouble_over"]
    assert codes(troubles.send_crew(cast.who(cast.dana), trouble=trouble.pk, version=3, crew="Bo")) == [
        "trouble_over"
    ]
    done(troubles.say_cause(cast.who(cast.dana), trouble=trouble.pk, version=3, cause="a squirrel"))


def test_the_desk_reads_its_trouble_wherever_it_asks(cast: Cast) -> None:
    """Among what needs somebody, as the reason of a position, in the list of who is out: critical first."""
    done(report(cast, "B-12", "ABC"))
    trouble = Trouble.objects.get()
    seen = look(cast.dana, "/desk/")
    (need,) = (one for one in seen.context["needs"] if one["word"] == f"Trouble {trouble.pk}.")
    assert (
        "cause not known, nobody sent, no time promised. 119 customers out, 1 on life-support."
        in need["text"]
    )
    assert need["act"]["url"].startswith("/do/send_crew/")
    (row,) = (one for one in seen.context["abnormal"] if one["device"] == "B-12")
    assert row["why"] == f"trouble {trouble.pk}, cause not known"
    counts = {count["words"]: count["n"] for count in seen.context["customers"]["counts"]}
    assert (counts["planned"], counts["unplanned"]) == (0, 119)
    (group,) = look(cast.dana, "/desk/out/").context["groups"]
    care = [one["cells"][3] for one in group["table"]["rows"]]
    assert care[0] == "life-support"
    assert care == sorted(care, key=lambda one: ["life-support", "critical", ""].index(one))
    promised = timezone.now() + datetime.timedelta(minutes=10)
    done(troubles.send_crew(cast.who(cast.dana), trouble=trouble.pk, version=1, crew="Tom Weir"))
    done(
        troubles.promise_power_back(
            cast.who(cast.dana), trouble=trouble.pk, version=2, back_by=promised, say="A breaker opened."
        )
    )
    assert not any(one["word"].startswith("Trouble") for one in look(cast.dana, "/desk/").context["needs"])
