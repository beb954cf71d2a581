"""What callers say, and the field's word of half bright, half dim: one line each, answered by the desk."""

import datetime

from django.db.models import Q
from django.utils import timezone

from circuits.models import Premises, Transformer

from .. import facts
from ..calls import nearest_open
from ..models import AffectedPremises, Call, Interruption, Role, SwitchingOrder
from ..rules.clauses import PICTURE
from ..rules.refusal import Refusal
from .reporting import REPORTERS, pause_orders
from .verb import Done, Outcome, Refused, Who, lock_clearance, verb, write

TURN_OFF = "Turn your main switch off, and leave it off until we have been."
NEUTRAL = (
    "Half bright, half dim at {place}: a lost neutral? Nothing is closed before the foreman was asked about "
    "the neutral at the cut span."
)


@verb(Role.SERVICE, Role.OPERATOR)
def take_call(who: Who, *, kind: str, premises: str = "", place: str = "", words: str = "") -> Outcome:
    """What a caller says, from an address on record (`premises`) or any other `place`: "out", "half" (half
    bright, half dim) or "wire" (on the ground). Who is out for no known reason is shown to the desk with the
    nearest device that stands open.
    """
    if kind not in Call.Kind.values:
        text = f"A caller is out, half or sees a wire, not «{kind}»."
        return Refused((Refusal("unknown_word", kind, text, PICTURE, "Take a note for the desk instead."),))
    home = Premises.objects.select_related("transformer__structure").filter(pk=premises).first()
    if premises and home is None:
        place = f"{place} {premises}".strip()
    place = f"{home.address} {home.unit}".strip() if home else place.strip() or "a place that was not said"
    why = _known(home) if kind == Call.Kind.OUT and home else ""
    outside = kind == Call.Kind.OUT and not why
    irregular = {
        Call.Kind.OUT: "" if why else "Out, and in no planned work and no known trouble.",
        Call.Kind.HALF: NEUTRAL.format(place=place),
        Call.Kind.WIRE: f"A wire on the ground: {place}.",
    }[Call.Kind(kind)]
    if kind == Call.Kind.HALF:
        _stop_restores(home.transformer if home else None, irregular)
    said = f": {words.strip()}" if words.strip() else ""
    done = write(
        who,
        "take_call",
        f"{who.said_by}: call from {place}, {Call.Kind(kind).label}{said}.{why}",
        done_at=timezone.now(),
        irregular=irregular,
        premises=home.pk if home else "",
    )
    return _keep(done, kind, place, home, home.transformer if home else None, outside=outside)


@verb(*REPORTERS, field_word=True)
def report_half_bright(who: Who, *, place: str, done_at: datetime.datetime, words: str = "") -> Outcome:
    """The field's word that lamps are half bright, half dim: `place` is a transformer or its pole. Restores
    that its customers wait for stop until the desk has asked about the neutral.
    """
    place = place.strip() or "a place that was not said"
    transformer = Transformer.objects.filter(Q(pk=place) | Q(structure=place)).order_by("pk").first()
    irregular = NEUTRAL.format(place=place)
    if transformer is None:
        irregular += f" {place} is neither a transformer nor its pole on the network."
    _stop_restores(transformer, irregular)
    said = f": {words.strip()}" if words.strip() else ""
    text = f"{who.said_by}: half bright, half dim at {place}{said}."
    done = write(who, "report_half_bright", text, done_at=done_at, irregular=irregular, place=place)
    return _keep(done, Call.Kind.HALF, place, None, transformer, outside=False)


def _keep(
    done: Done,
    kind: str,
    place: str,
    home: Premises | None,
    transformer: Transformer | None,
    *,
    outside: bool,
) -> Done:
    Call.objects.create(
        entry=done.entry,
        kind=kind,
        place=place,
        premises=home,
        transformer=transformer,
        outside=outside,
        device_id=nearest_open(home, place) if outside else None,
        at=timezone.now(),
    )
    return done


def _known(home: Premises) -> str:
    """Why a premises is out, as far as the board knows; "" if it does not."""
    out = Interruption.objects.filter(premises=home, on_at=None).first()
    if out:
        return " It is out for planned work." if out.clearance_id else f" It is in trouble {out.trouble_id}."
    planned = AffectedPremises.objects.filter(
        premises=home, clearance__order__state__in=facts.UNDER_WAY
    ).exclude(clearance__state__in=facts.OVER)
    return " It is counted in planned work." if planned.exists() else ""


def _stop_restores(transformer: Transformer | None, why: str) -> None:
    """Pause the orders that its customers wait for; of a place that is not known every restoring one."""
    orders = SwitchingOrder.objects.filter(state="checked")
    if transformer:
        fed = Premises.objects.filter(Q(transformer=transformer) | Q(second_transformer=transformer))
        orders = orders.filter(clearance__affected__premises__in=fed).distinct()
    else:
        orders = orders.filter(clearance__state__in=facts.OVER)
    numbers = sorted(orders.values_list("pk", flat=True))
    for number in numbers:
        lock_clearance(number)
    pause_orders(numbers, why)
