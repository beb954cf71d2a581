"""Of the person in charge of a clearance: where else they are, and whether a contractor knows the site."""

import datetime
from collections.abc import Iterable, Iterator

from django.db.models import QuerySet
from django.utils import timezone

from circuits import snapshot
from circuits.core.network import Compiled

from . import facts
from .models import Clearance, Person
from .rules.holders import Elsewhere, may_be_in_charge
from .rules.refusal import Refusal


def site(nodes: Iterable[tuple[str, str]], compiled: Compiled) -> frozenset[str]:
    """The poles that (node, phases) stand at; a node at none counts by itself."""
    return frozenset(compiled.network.pole(node) or node for node, _ in nodes)


def _apart(rows: QuerySet[Clearance], here: frozenset[str]) -> Iterator[Elsewhere]:
    compiled = snapshot.compiled()
    for row in rows.prefetch_related("limits").order_by("pk"):
        if not here & site(facts.limits_of(row, compiled), compiled):
            where = row.limits_words.partition(". ")[0]
            hours = timezone.localtime(row.window_start), timezone.localtime(row.promised_end)
            yield Elsewhere(row.pk, f"{where[0].lower()}{where[1:]}", *hours)


def against_giving(clearance: Clearance) -> tuple[Refusal, ...]:
    """What stands against this holder's being in charge now."""
    compiled = snapshot.compiled()
    holder = clearance.holder
    out = Clearance.objects.filter(holder=holder, state__in=facts.OUT).exclude(pk=clearance.pk)
    here = site(facts.limits_of(clearance, compiled), compiled)
    recorded = clearance.exchanges.exclude(recorded_by=holder).exists()
    return may_be_in_charge(
        clearance.pk,
        str(holder),
        elsewhere=tuple(_apart(out, here)),
        uninformed_of=holder.employer if holder.contractor and not recorded else None,
    )


def in_the_same_hours(
    holder: Person,
    nodes: Iterable[tuple[str, str]],
    start: datetime.datetime,
    end: datetime.datetime,
) -> tuple[Elsewhere, ...]:
    """The holder's other clearances at another site than these nodes, asked for or out in these hours."""
    meeting = facts.in_hours(start, end).filter(holder=holder)
    return tuple(_apart(meeting, site(nodes, snapshot.compiled())))
