"""What stands and is no clearance, on the desk and on the phone, and what of it needs somebody."""

from collections.abc import Iterator
from datetime import timedelta

from .. import facts, protections
from ..acts.holds import at_the_device
from ..models import HotLineHold, Person
from ..templatetags.board import clock
from . import words
from .desk import Desk
from .picture import Picture, Row, to_page

NOT_ACCEPTED = timedelta(minutes=15)  # common practice


def rows(desk: Desk) -> list[Row]:
    """Each with its own word, for components/beside.html."""
    return [
        *(_hold(desk, hold) for hold in desk.beside.holds),
        *(
            {
                "kind": "do-not-operate",
                "word": "DO NOT OPERATE, no clearance",
                "number": row.number,
                "name": f"{row.name}, {row.employer}",
                "phone": row.phone,
                "device": row.device_id,
                "where": desk.where(row.device_id),
                "words": [f"{words.spaced(row.phases)} kept open: {row.work}."],
                "since": row.given_at,
                "acts": desk.acts(desk.act("give_back_do_not_operate", do_not_operate=row.pk)),
            }
            for row in desk.beside.do_not_operates
        ),
        *(
            {
                "kind": "field-clearance",
                "word": "FIELD CLEARANCE, no operator order",
                "number": row.number,
                "name": str(row.holder),
                "phone": row.holder.phone,
                "device": row.device_id,
                "where": desk.where(row.device_id),
                "words": [f"{words.spaced(row.phases)} open, in sight of the work: {row.work}."],
                "since": row.started_at,
                "acts": desk.acts(desk.act("end_field_clearance", field_clearance=row.pk)),
            }
            for row in desk.beside.field_clearances
        ),
    ]


def _hold(desk: Desk, hold: HotLineHold) -> Row:
    tag = to_page("Print its tag", "hold_tag", hold.pk)
    given = hold.state == HotLineHold.State.GIVEN
    accept = desk.act("accept_hold", hold=hold.pk) if given else None
    back = None if given else desk.act("give_back_hold", hold=hold.pk)
    said = protections.last(hold, "stands_down", "stays", "yes", "no")
    return {
        "kind": "hot-line-hold",
        "word": "RECLOSE OFF, works energized",
        "number": hold.number,
        "name": str(hold.holder),
        "phone": hold.holder.phone,
        "device": hold.device_id,
        "where": desk.where(hold.device_id),
        "words": [
            f"At {hold.place_words}: {hold.work}. {hold.crew}.",
            at_the_device(hold) + (" Not accepted." if given else ""),
            *([f"Last answer {clock(said.done_at)}: {said.get_said_display()}."] if said else []),
        ],
        "since": hold.given_at,
        "acts": desk.acts(
            accept,
            None if given else desk.act("answer_hold", hold=hold.pk),
            desk.act("report_hold", hold=hold.pk),
            back,
            tag,
        ),
    }


def needs(desk: Desk) -> Iterator[tuple[str, str, str, Row | None]]:
    """(level, subject, text, act) of what waits for somebody."""
    for hold in desk.beside.holds:
        yield from _out(desk, hold)
    for hold in desk.beside.asked:
        ready = protections.reclosing_off(hold) and protections.tagged(hold)
        text = f"{_reach(hold)}: {hold.work}. {at_the_device(hold)}"
        act = desk.act("give_hold" if ready else "report_hold", hold=hold.pk)
        yield "soon", f"Hot-line hold {hold.number} is asked for.", text, act
    still_out = {hold.device_id: hold.number for hold in desk.beside.holds}
    for hold in protections.left_behind():
        over = f"Hot-line hold {hold.number} ({hold.holder}) is over."
        act = desk.act("report_hold", hold=hold.pk)
        if protections.tagged(hold):
            yield (
                "soon",
                over,
                f"Its tag still hangs at {hold.device_id}: have it taken off and reported.",
                act,
            )
        elif hold.device_id not in still_out:
            text = f"Reclosing at {hold.device_id} is still off: have it put back and reported."
            yield "soon", over, text, act


def _out(desk: Desk, hold: HotLineHold) -> Iterator[tuple[str, str, str, Row | None]]:
    report = desk.act("report_hold", hold=hold.pk)
    if not (protections.reclosing_off(hold) and protections.tagged(hold)):
        text = f"{at_the_device(hold)} Call {_reach(hold)}."
        yield "now", f"Hot-line hold {hold.number} is not as it was given.", text, report
    opened = desk.open_now.get(hold.device_id)
    if opened and not protections.agreed(hold, protections.last_opened(hold.device_id)):
        text = (
            f"{words.spaced(opened)} open; {_reach(hold)}, works beyond. Nothing is closed, nor test closed, "
            "before the answer is yes."
        )
        act = desk.act("answer_hold", hold=hold.pk)
        level = "soon" if desk.tags.get(hold.device_id) else "now"  # opened for a clearance, or by itself
        yield level, f"{hold.device_id} is open under hot-line hold {hold.number}.", text, act
    if hold.state == HotLineHold.State.GIVEN and hold.given_at and desk.now - hold.given_at > NOT_ACCEPTED:
        text = f"Given {clock(hold.given_at)}. Call {_reach(hold)}."
        act = desk.act("accept_hold", hold=hold.pk)
        yield "now", f"Hot-line hold {hold.number} is not accepted.", text, act


def _reach(hold: HotLineHold) -> str:
    return f"{hold.holder}, {hold.holder.phone}" if hold.holder.phone else str(hold.holder)


def meetings(desk: Desk) -> list[str]:
    """Where a hot-line hold, a do-not-operate or a field clearance meets a clearance, asked for or out."""
    return [
        f"Clearance {one.pk} ({one.holder}): {meets.sentence}"
        for one in [*desk.out, *desk.asked]
        for meets in desk.beside.meeting(
            {point.device_id for point in one.points.all()},
            {node for node, _ in facts.limits_of(one, desk.compiled)},
        )
    ]


def mine(picture: Picture, person: Person) -> list[Row]:
    """A person's own holds and field clearances on the phone, the hold that is asked for too."""
    found: list[Row] = []
    for hold in [*picture.beside.asked, *picture.beside.holds]:
        if hold.holder_id != person.pk:
            continue
        acts = {
            HotLineHold.State.ASKED: ("report_hold",),
            HotLineHold.State.GIVEN: ("accept_hold", "report_hold"),
            HotLineHold.State.ACCEPTED: ("answer_hold", "give_back_hold", "report_hold"),
        }[HotLineHold.State(hold.state)]
        found.append(
            {
                "kind": "hot-line-hold",
                "word": "Hot-line hold, no clearance: ENERGIZED",
                "number": hold.number,
                "state": {"asked": "Not given", "given": "Given, not accepted"}.get(
                    hold.state, f"Accepted {clock(hold.accepted_at)}"
                ),
                "words": [
                    at_the_device(hold),
                    f"You work at {hold.place_words}.",
                    f"{hold.device_id} is at {picture.where(hold.device_id)}.",
                ],
                "acts": picture.acts(*(picture.act(name, hold=hold.pk) for name in acts)),
            }
        )
    for field in picture.beside.field_clearances:
        if field.holder_id != person.pk:
            continue
        opened = f"{field.device_id} {words.spaced(field.phases)} open at {picture.where(field.device_id)}."
        found.append(
            {
                "kind": "field-clearance",
                "word": "Field clearance, no operator order",
                "number": field.number,
                "state": f"On since {clock(field.started_at)}",
                "words": [
                    opened,
                    "Test for voltage and ground before the line is worked on as de-energized.",
                ],
                "acts": picture.acts(picture.act("end_field_clearance", field_clearance=field.pk)),
            }
        )
    return found
