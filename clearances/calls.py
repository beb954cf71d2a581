"""Calls that nobody has answered, and which device is nearest to one from outside the planned area."""

import math
from collections.abc import Iterable, Iterator

from django.db.models import BigIntegerField, Exists, OuterRef
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

from circuits import positions, snapshot
from circuits.core.values import normally_open
from circuits.models import Device, Premises, Structure

from .models import Call, LogEntry
from .rules import calls as rules
from .rules.flags import Flag

METRES = 111_320  # a degree of latitude
Place = tuple[float, float]


def flags() -> Iterator[Flag]:
    """What the open calls say together; one query."""
    answers = LogEntry.objects.filter(verb="answer_irregular").annotate(
        answered=Cast(KeyTextTransform("entry", "data"), BigIntegerField())
    )
    rows = list(Call.objects.exclude(Exists(answers.filter(answered=OuterRef("pk")))).order_by("pk"))
    yield from rules.outside(_heard(row for row in rows if row.outside))
    yield from rules.half(_heard(row for row in rows if row.kind == Call.Kind.HALF))


def _heard(rows: Iterable[Call]) -> list[rules.Heard]:
    return [rules.Heard(row.place, row.device_id or "", row.transformer_id or "") for row in rows]


def nearest_open(premises: Premises | None, place: str) -> str | None:
    """The device nearest to a caller, along the ground, among those that stand open although they are
    normally closed; None where nothing does, or where it is not known from where the call comes. Of a place
    that is not on record its street is taken, if the words name one. A few queries.
    """
    here = _of_premises(premises) if premises else _of_street(place)
    normal = normally_open(snapshot.compiled().network)
    moved = [
        device
        for device, phases in positions.open_phases().items()
        if set(phases) - set(normal.get(device, ""))
    ]
    rows = Device.objects.filter(pk__in=moved).select_related("structure")
    at = {row.pk: where for row in rows if row.structure and (where := _of(row.structure))}
    if here is None or not at:
        return None
    return min(sorted(at), key=lambda device: metres(here, at[device]))


def metres(one: Place, other: Place) -> float:
    """Between two places (latitude, longitude, degrees) of one town; as on a plane.

    >>> round(metres((41.0, -94.0), (41.001, -94.0)))
    111
    """
    east = (other[1] - one[1]) * math.cos(math.radians(one[0]))
    return METRES * math.hypot(other[0] - one[0], east)


def _of(row: Structure | Premises) -> Place | None:
    if row.latitude is None or row.longitude is None:
        return None
    return float(row.latitude), float(row.longitude)


def _of_premises(one: Premises) -> Place | None:
    pole = one.transformer.structure
    return _of(one) or (_of(pole) if pole else None)


def _of_street(words: str) -> Place | None:
    """The middle of the street that the words name."""
    streets = Structure.objects.exclude(street="").values_list("street", flat=True).distinct()
    named = next((one for one in sorted(streets) if one.lower() in words.lower()), None)
    places = [at for row in Structure.objects.filter(street=named or "-") if (at := _of(row))]
    if not places:
        return None
    return sum(at[0] for at in places) / len(places), sum(at[1] for at in places) / len(places)
