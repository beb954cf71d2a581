"""Plays of what is no clearance: a hot-line hold, a customer's do-not-operate, a field clearance; and a job
that needs the recloser of the hold open."""

from typing import Any, ClassVar

from django.utils import timezone

from clearances.models import DoNotOperate, FieldClearance, HotLineHold, Person
from clearances.services import do_not_operates, field_clearances, holds, reporting
from clearances.services.verb import Outcome
from tests.cast import Cast, done

RECLOSER = "R-31"


class Elm(Cast):
    """Work de-energized between P-282 and P-283, beyond the recloser R-31 and this side of the tie N-7."""

    points: ClassVar[tuple[str, ...]] = (RECLOSER, "N-7")

    def asked(self, **named: Any) -> Any:
        limits = {"from_pole": "P-282", "to_pole": "P-283"}
        return super().asked(**{"work": "Replace the cross-arm at P-282"} | limits | named)


def stands(cast: Cast, device: str, position: str, phases: str = "ABC", **how: Any) -> None:
    """Sal sees a device standing so, with no order behind it."""
    who = cast.who(cast.sal)
    done(
        reporting.report_position(
            who, device=device, phases=phases, position=position, done_at=timezone.now(), **how
        )
    )


def ask_for_hold(cast: Cast, holder: Person | None = None, **changed: Any) -> Outcome:
    asked: dict[str, Any] = {
        "device": RECLOSER, "from_pole": "P-278", "to_pole": "P-279", "phases": "ABC",
        "work": "Change an insulator at P-278, gloved", "crew": "line 3",
    }  # fmt: skip
    return holds.ask_for_hold(cast.who(holder or cast.bo), **asked | changed)


def say(cast: Cast, hold: HotLineHold, said: str) -> None:
    """Sal reports what is done or seen at the device of the hold."""
    done(holds.report_hold(cast.who(cast.sal), hold=hold.pk, said=said, done_at=timezone.now()))


def make_ready(cast: Cast, hold: HotLineHold) -> None:
    """Reclosing off and the hold tag hung, as the giving asks."""
    say(cast, hold, "reclose_off")
    say(cast, hold, "tag_hung")


def answer(cast: Cast, hold: HotLineHold, word: str) -> None:
    """The holder's own answer."""
    done(holds.answer_hold(cast.who(hold.holder), hold=hold.pk, said=word, done_at=timezone.now()))


def give_back(cast: Cast, hold: HotLineHold) -> None:
    done(holds.give_back_hold(cast.who(hold.holder), hold=hold.pk, told_everyone=True))


def a_hold(cast: Cast, stage: str = "accepted", holder: Person | None = None, **changed: Any) -> HotLineHold:
    """A hold at the recloser for Bo's crew, brought to asked, given, accepted, given_back or withdrawn."""
    entry = done(ask_for_hold(cast, holder, **changed)).entry
    hold = HotLineHold.objects.get(pk=entry.data["hold"])
    if stage == "withdrawn":
        done(holds.withdraw_hold(cast.who(cast.dana), hold=hold.pk, why="rain"))
    elif stage != "asked":
        make_ready(cast, hold)
        done(holds.give_hold(cast.who(cast.dana), hold=hold.pk))
        if stage != "given":
            words = f"{hold.device_id}, reclosing off, tag {hold.number}, {hold.place_words}"
            done(holds.accept_hold(cast.who(hold.holder), hold=hold.pk, read_back=words))
        if stage == "given_back":
            give_back(cast, hold)
    hold.refresh_from_db()
    return hold


def give_do_not_operate(cast: Cast, **changed: Any) -> Outcome:
    given: dict[str, Any] = {
        "device": "F-275", "phases": "ABC", "name": "Iris Novak", "employer": "Novak Electric",
        "phone": "555-0177", "work": "Change the plant's main breaker",
    }  # fmt: skip
    return do_not_operates.give_do_not_operate(cast.who(cast.dana), **given | changed)


def a_do_not_operate(cast: Cast, stage: str = "given", **changed: Any) -> DoNotOperate:
    """The plant's cutouts kept open for its electrician."""
    device, phases = changed.get("device", "F-275"), changed.get("phases", "ABC")
    stands(cast, device, "open", phases, made_inoperable="barrels out, secured")
    entry = done(give_do_not_operate(cast, **changed)).entry
    row = DoNotOperate.objects.get(pk=entry.data["do_not_operate"])
    if stage == "given_back":
        done(give_back_do_not_operate(cast, row))
    row.refresh_from_db()
    return row


def give_back_do_not_operate(cast: Cast, row: DoNotOperate, **changed: Any) -> Outcome:
    met: dict[str, Any] = {"given_back_by": row.name, "met_by": cast.sal, "met_where": "at the plant's gate"}
    return do_not_operates.give_back_do_not_operate(
        cast.who(cast.dana), **{"do_not_operate": row.pk} | met | changed
    )


def start_field_clearance(cast: Cast, holder: Person | None = None, **changed: Any) -> Outcome:
    start: dict[str, Any] = {
        "device": "F-210", "phases": "A", "work": "Change transformer T-210", "crew": "line 1",
        "in_sight": True, "one_crew": True, "done_at": timezone.now(),
    }  # fmt: skip
    return field_clearances.start_field_clearance(cast.who(holder or cast.ana), **start | changed)


def a_field_clearance(cast: Cast, stage: str = "on", **changed: Any) -> FieldClearance:
    """Ana's crew behind the cutout of T-210."""
    stands(cast, changed.get("device", "F-210"), "open", changed.get("phases", "A"))
    entry = done(start_field_clearance(cast, **changed)).entry
    field = FieldClearance.objects.get(pk=entry.data["field_clearance"])
    if stage == "ended":
        done(end_field_clearance(cast, field))
    field.refresh_from_db()
    return field


def end_field_clearance(cast: Cast, field: FieldClearance, by: Person | None = None) -> Outcome:
    return field_clearances.end_field_clearance(
        cast.who(by or field.holder), field_clearance=field.pk, all_off=True, done_at=timezone.now()
    )
