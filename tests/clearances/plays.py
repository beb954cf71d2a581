"""More plays for the cast: a second, smaller job; a job called off; a point whose close is next."""

import datetime
from typing import Any, ClassVar

from clearances.models import Clearance, Step
from clearances.services import asking, calling_off
from tests.cast import Cast, done


class Tap(Cast):
    """Work on the tap of Weir Close: phase B alone, P-251 to P-253, fed through the cutout C-233 and nothing
    else.
    """

    points: ClassVar[tuple[str, ...]] = ("C-233",)

    def asked(self, **named: Any) -> Clearance:
        limits = {"from_pole": "P-251", "to_pole": "P-253", "phases": "B"}
        return super().asked(**{"work": "Replace the conductor of the tap"} | limits | named)


class SecondStage(Cast):
    """Changing T-217 out behind its own cutout, after the primary is back: the tie to T-219 parts its
    secondary.
    """

    points: ClassVar[tuple[str, ...]] = ("F-217", "S-217")

    def follow(self, before: Clearance, **named: Any) -> Clearance:
        """The request for the stage after `before`."""
        times = {
            "window_start": before.promised_end,
            "promised_end": before.promised_end + datetime.timedelta(hours=2),
            "latest_finish": before.promised_end + datetime.timedelta(hours=3),
        }
        entry = done(
            asking.ask_for_next_stage(
                self.who(before.holder),
                clearance=before.pk,
                work="Change T-217 out",
                **{"transformer": "T-217"} | times | named,
            )
        ).entry
        assert entry.clearance
        return entry.clearance


def called_off(cast: Cast, clearance: Clearance) -> Clearance:
    who = cast.who(cast.dana)
    done(calling_off.call_off_job(who, clearance=clearance.pk, version=clearance.version, why="thunderstorm"))
    return Clearance.objects.get(pk=clearance.pk)


def step(cast: Cast, clearance: Clearance, half: str, operation: str) -> Step:
    return next(each for each in cast.steps(clearance, half) if each.operation == operation)


def released_and_untagged(tap: Tap, clearance: Clearance) -> Step:
    """Release it, take its tag off, and name the step that closes again."""
    tap.release(clearance)
    remove = step(tap, clearance, "restore", "remove_tag")
    tap.give_step(clearance, remove)
    tap.report_step(remove)
    return step(tap, clearance, "restore", "close")
