"""More plays for the cast: a second, smaller job; a job called off."""

from typing import Any, ClassVar

from clearances.models import Clearance
from clearances.services import asking
from tests.cast import Cast, done


class Tap(Cast):
    """Work on the tap of Weir Close: phase B alone, P-251 to P-253, fed through the cutout C-233 and nothing
    else.
    """

    points: ClassVar[tuple[str, ...]] = ("C-233",)

    def asked(self, **named: Any) -> Clearance:
        limits = {"from_pole": "P-251", "to_pole": "P-253", "phases": "B"}
        return super().asked(**{"work": "Replace the conductor of the tap"} | limits | named)


def called_off(cast: Cast, clearance: Clearance) -> Clearance:
    who = cast.who(cast.dana)
    done(asking.call_off_job(who, clearance=clearance.pk, version=clearance.version, why="thunderstorm"))
    return Clearance.objects.get(pk=clearance.pk)
