"""The first page on the phone: the step given to me, the clearances that I am on, and the desk."""

from datetime import timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from .. import facts
from ..acts.switching import TAG_SEEN
from ..facts import OVER
from ..models import Clearance, GroundSet, LogEntry, Person, Role, Step
from ..rooms import own
from ..rules.words import inoperable
from . import standing, words
from .picture import Picture, Row

KEPT = timedelta(hours=12)  # how long a released clearance stays on its people's first page


def desk() -> Row | None:
    """Who sits at the desk: the operator whose act is the newest in the log, else any."""
    last = (
        LogEntry.objects.filter(by__roles__contains=[Role.OPERATOR])
        .select_related("by")
        .order_by("-number")
        .first()
    )
    person = (
        last.by if last else Person.objects.filter(roles__contains=[Role.OPERATOR], is_active=True).first()
    )
    return {"name": str(person), "phone": person.phone} if person else None


def context(person: Person, back: str) -> dict[str, Any]:
    """What templates/field/home.html names."""
    picture = Picture(person, back)
    tested = facts.sound_tests().filter(clearance=OuterRef("pk"), done_at__gte=OuterRef("accepted_at"))
    current = Q(state__in=[Clearance.State.ASKED, *facts.OUT]) | Q(released_at__gte=picture.now - KEPT)
    mine = (
        own(person)
        .filter(current)
        .select_related("holder")
        .annotate(
            tested=Exists(tested),
            grounded=Exists(GroundSet.objects.filter(clearance=OuterRef("pk"), off_at=None)),
        )
    )
    step = (
        Step.objects.filter(state=Step.State.GIVEN, given_to=str(person))
        .select_related("point", "device")
        .order_by("given_at")
        .first()
    )
    return {
        "step": _step(picture, step) if step else None,
        "mine": [
            {
                "number": row.pk,
                "url": reverse("sheet", args=[row.pk]),
                "state": " ".join(words.short_state(row)),
                "limits": words.limits(row)[0],
                "standing": words.STANDING[Clearance.State(row.state)],
                "next": _next_in_short(row, person),
            }
            for row in sorted(mine, key=lambda row: (row.state in OVER, row.window_start))
        ],
        "beside": standing.mine(picture, person),
        "desk": desk(),
        "acts": picture.groups(
            {
                "Report": (
                    picture.act("open_now"),
                    picture.act("report_position"),
                    picture.act("report_position", TAG_SEEN, tag="1"),
                    picture.act("report_blown"),
                    picture.act("report_patrol"),
                    picture.act("report_half_bright"),
                    picture.act("remark"),
                ),
                "Ask": (
                    picture.act("ask_for_clearance"),
                    picture.act("ask_for_hold"),
                    picture.act("start_field_clearance"),
                ),
            }
        ),
        "unsent": "",
    }


def _step(picture: Picture, step: Step) -> Row:
    return {
        "number": step.place,
        "order": step.order_id,
        "words": words.operation(step),
        "device": step.device_id,
        "where": picture.where(step.device_id),
        "phases": words.spaced(step.phases),
        "then": _then(picture, step),
        "given_at": step.given_at,
        "repeated": True,
        "acts": picture.acts(
            picture.act("report_step", "I have done it", step=step.pk), *otherwise(picture, step)
        ),
    }


def otherwise(picture: Picture, step: Step) -> list[Row | None]:
    """How a step that is given may end but for being done."""
    closing = step.operation == Step.Operation.CLOSE
    moves = step.operation != Step.Operation.REMOVE_TAG
    wanted = [
        picture.act("report_blown", device=step.device_id) if closing else None,
        picture.act("report_stuck", step=step.pk) if moves else None,
        picture.act("report_wrong_device", step=step.pk) if moves else None,
    ]
    return [one | {"quiet": True} if one else None for one in wanted]


def _then(picture: Picture, step: Step) -> str:
    """What belongs to the step when the device is operated."""
    if step.operation == Step.Operation.REMOVE_TAG:
        return "Leave it open."
    if step.operation == Step.Operation.CLOSE:
        left_off = picture.beside.reclosing_stays_off(step.device_id)
        return f"{left_off[0].upper()}{left_off[1:]}." if left_off else ""
    if step.point is None:
        return "No tag: it is no point of the clearance."
    how = inoperable(step.device.kind)
    return f"{how[0].upper()}{how[1:]}. Hang tag {step.tag_number}."


def _next_in_short(row: Clearance, person: Person) -> str:
    """What is expected of the crew, as far as a list can say it."""
    if row.state == Clearance.State.ASKED:
        return "the desk gives it"
    if row.state == Clearance.State.GIVEN:
        return "you accept it" if row.holder_id == person.pk else f"{row.holder} accepts it"
    if row.state == Clearance.State.FROZEN:
        return "nobody works; call the desk"
    if row.state in OVER:
        return ""
    if not getattr(row, "tested", False):
        return "test for voltage"
    return "work and report" if getattr(row, "grounded", False) else "ground sets on or release"
