"""What a telephone says of its own time: kept beside the board's, never in its place.

The time of receipt rules the order of things. What waited in a telephone (`late`) is taken down as of the
minute that was said, and never lifts or ends what was entered since: both are shown side by side.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils import timezone

from ..models import Clearance, LogEntry
from ..rules.words import in_order

SKEW = datetime.timedelta(seconds=60)  # more is told
FIRST, LAST = 1970, 2200  # a clock that was never set begins with the epoch
WAITED = datetime.timedelta(seconds=60)  # from pressing to sending; more is late

# What says the opposite, and which of its words have to be the same for it to be about the same thing.
OPPOSITE: Mapping[str, tuple[tuple[str, ...], str]] = {
    "ground_on": (("ground_off", "ground_never_on"), "label"),
    "ground_off": (("ground_on",), "label"),
    "sign_on": (("sign_off",), "name"),
    "sign_off": (("sign_on",), "name"),
}


@dataclass(frozen=True, slots=True)
class Phone:
    """By the telephone's own clock: when it was pressed (`said_at`) and sent (`sent_at`); and its number
    among all that this telephone has sent.
    """

    said_at: datetime.datetime
    sent_at: datetime.datetime
    sequence: int

    @classmethod
    def of(
        cls, said_at: datetime.datetime | None, sent_at: datetime.datetime | None, sequence: int
    ) -> "Phone | None":
        """None where the times are none at all: what is reported is stored whatever a telephone says."""
        if said_at is None or sent_at is None:
            return None
        real = all(at.tzinfo and FIRST <= at.year <= LAST for at in (said_at, sent_at))
        return cls(said_at, sent_at, sequence) if real else None

    @property
    def late(self) -> bool:
        """It waited in the telephone."""
        return self.sent_at - self.said_at > WAITED

    def skew(self, received_at: datetime.datetime) -> datetime.timedelta:
        """How far its clock runs ahead of the board's. The way of the message counts as none."""
        return self.sent_at - received_at

    def pressed_at(self, received_at: datetime.datetime) -> datetime.datetime:
        """When it was pressed, by the board's clock."""
        return self.said_at - self.skew(received_at)


@dataclass(frozen=True, slots=True)
class Told:
    """What a log entry says of it: a sentence, why it is out of the ordinary, and the values."""

    words: str
    irregular: str
    data: dict[str, Any]


def since(
    phone: Phone | None, name: str, clearance: Clearance | None, data: Mapping[str, Any]
) -> list[LogEntry]:
    """What was entered against a late report since it was pressed, the oldest first; nothing against a live
    one.
    """
    if phone is None or not phone.late:
        return []
    entered = LogEntry.objects.filter(entered_at__gt=phone.pressed_at(timezone.now())).order_by("number")
    if name in OPPOSITE:
        verbs, same = OPPOSITE[name]
        return list(entered.filter(verb__in=verbs, clearance=clearance, **{f"data__{same}": data.get(same)}))
    if name == "report_test":
        about = Q(verb=name, clearance=clearance, data__pole=data["pole"])
        return list(entered.filter(about).exclude(data__result=data["result"]))
    if name == "report_step" and data["tag"] and not data["position"]:  # a tag that came off
        hung = Q(data__tag=True, data__position="open") | Q(data__tag__endswith=" hung")
        return list(entered.filter(hung, clearance=clearance, data__device=data["device"]))
    position, phases = data.get("position"), set(data.get("phases") or "")
    if not position or "device" not in data:
        return []
    others = entered.filter(data__device=data["device"], data__position__in=["open", "closed"])
    return [
        one
        for one in others.exclude(data__position=position)
        if in_order(phases & set(one.data.get("phases", "")))
    ]


def told(phone: Phone, name: str, clearance: Clearance | None, data: Mapping[str, Any]) -> Told:
    """Both times, a clock that is wrong, and what was entered since that says otherwise."""
    now = timezone.now()
    skew, against = phone.skew(now), since(phone, name, clearance, data)
    parts = []
    if abs(skew) > SKEW:
        minutes = max(1, round(abs(skew).total_seconds() / 60))
        side = "ahead of" if skew > datetime.timedelta() else "behind"
        parts.append(f"The phone's clock is {minutes} min {side} the board's.")
    for one in against:
        parts.append(f"Against it stands entry {one.number}, entered since: «{one.words}»")
    late = (
        f" Sent late: the phone said {_clock(phone.said_at)} (its number {phone.sequence}), received "
        f"{_clock(now)}."
        if phone.late
        else ""
    )
    return Told(
        late,
        " ".join(parts),
        {
            "phone_clock": {
                "said_at": phone.said_at.isoformat(),
                "sent_at": phone.sent_at.isoformat(),
                "sequence": phone.sequence,
                "late": phone.late,
                "against": [one.number for one in against],
            }
        },
    )


def _clock(at: datetime.datetime) -> str:
    return f"{timezone.localtime(at):%H:%M:%S}"
