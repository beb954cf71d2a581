"""How limits stand now, and the best few ways to part them, on the network in use as it is reported."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils import timezone

from circuits import positions, ratings, snapshot, upward, whatif
from circuits.core.limits import NoSuchLimits, behind_cutout, between
from circuits.core.network import Compiled
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import CannotPlanError, Plans, Question
from circuits.core.proving.opens import Opened
from circuits.core.proving.proof import Proof, prove

Limits = tuple[tuple[str, str], ...]
Window = tuple[datetime.datetime, datetime.datetime]


@dataclass(frozen=True, slots=True)
class Answer:
    """`proof` is of the limits as everything is reported now, without a point of their own; `cannot` says in
    a sentence why there is no plan. `others` are the devices and nodes that others have, with whose they
    are."""

    compiled: Compiled
    limits: Limits
    proof: Proof
    plans: Plans
    cannot: str
    others: upward.InTheWay
    minutes: float | None
    computed_from: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be parted: poles and phases, or a transformer, or (node, phases) pairs."""

    from_structure: str = ""
    to_structure: str = ""
    phases: str = ""
    transformer: str = ""
    nodes: Limits = field(default=())

    def limits(self, compiled: Compiled) -> Limits:
        """Raises NoSuchLimits with a sentence."""
        if self.nodes:
            return self.nodes
        if self.transformer:
            return behind_cutout(compiled, self.transformer).nodes
        return between(compiled, self.from_structure, self.to_structure, self.phases).nodes


def ask(
    asked: Asked,
    *,
    window: Window | None = None,
    but: int = 0,
    agreed: Sequence[str] = (),
    by_phase: bool = False,
    how_many: int = 3,
) -> Answer:
    """The proof of the present state of these limits, and up to `how_many` plans.

    `window` is when the work is to be: what others have then is neither operated nor crossed, but for points
    that may be shared; the work clearance numbered `but` is left out. Raises CannotSayError for limits that
    are not there. Cost: as `circuits.core.planning.planner.plans`, besides a few queries.
    """
    compiled = snapshot.compiled()
    now = timezone.now()
    open_now = positions.open_phases(network=compiled.network)
    others = upward.in_the_way(window, but)
    try:
        limits = asked.limits(compiled)
        question = Question(
            limits,
            open_now,
            kept=tuple(one for one in others.kept if one in compiled.network.device),
            shared=others.shared,
            not_crossed={
                node: why for node, why in others.not_crossed.items() if node in compiled.network.node
            },
            agreed=tuple(agreed),
            ratings=ratings.ratings(),
            by_phase=by_phase,
        )
        found, cannot = plans(compiled, question, how_many=how_many), ""
    except CannotPlanError as error:
        found, cannot = Plans((), (), (), ()), str(error)
    except NoSuchLimits as error:
        raise whatif.CannotSayError(str(error)) from None
    except ValueError as error:
        raise whatif.CannotSayError(f"{str(error)[0].upper()}{str(error)[1:]}.") from None
    return Answer(
        compiled=compiled,
        limits=limits,
        proof=prove(compiled, limits, {}, Opened(compiled, open_now), agreed=agreed, as_of=now),
        plans=found,
        cannot=cannot,
        others=others,
        minutes=(window[1] - window[0]).total_seconds() / 60 if window else None,
        computed_from=whatif.computed_from(compiled.network.revision, None, now),
    )
