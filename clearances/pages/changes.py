"""What jobs change on the network, for the engineer and the desk: planned, built, open, not yet surveyed."""

from typing import Any

from ..acts import ACTS, allowed, link
from ..models import ChangeSet, Person, Role
from ..templatetags.board import clock
from .picture import Row

State = ChangeSet.State
# What can be done with a change set in a state.
NEXT = {
    State.PLANNED: ("confirm_change", "mark_not_done"),
    State.CONFIRMED: ("survey_change", "withdraw_change"),
}
SHOWN = 50  # change sets that are over


def context(person: Person, back: str) -> dict[str, Any]:
    """What templates/desk/changes.html names."""
    rows = ChangeSet.objects.select_related("clearance__holder", "clearance__job", "ended_by").order_by("-pk")
    open_ones = list(rows.filter(state__in=NEXT))
    return {
        "groups": [
            (
                "Built, and not in the network yet",
                [told(one, person, back) for one in open_ones if one.unsettled],
            ),
            (
                "Built, as reported, not surveyed",
                [told(one, person, back) for one in open_ones if one.said_by and not one.unsettled],
            ),
            ("Planned", [told(one, person, back) for one in open_ones if one.state == State.PLANNED]),
            ("Over", [told(one, person, back) for one in rows.exclude(state__in=NEXT)[:SHOWN]]),
        ]
    }


def of_clearance(number: int, person: Person, back: str) -> list[Row]:
    """The change sets of one clearance, for its page, its sheet and its paper."""
    rows = ChangeSet.objects.filter(clearance=number).select_related("clearance__holder", "ended_by")
    return [told(one, person, back) for one in rows]


def told(row: ChangeSet, person: Person, back: str) -> Row:
    """One change set for components/change.html."""
    names = [*(("settle_change",) if row.unsettled else ()), *NEXT.get(State(row.state), ())]
    holder = row.clearance.holder
    said = f"{row.said_by}, {clock(row.done_at or row.said_at)}" if row.said_by else ""
    return {
        "number": row.pk,
        "clearance": row.clearance_id,
        "holder": str(holder),
        "state": State(row.state).label,
        "said": said,
        "planned": [one["words"] for one in row.planned],
        "built": [one["words"] for one in row.built] if row.built != row.planned else [],
        "differs": bool(row.said_by) and row.state != State.NOT_DONE and row.built != row.planned,
        "unsettled": row.unsettled,
        "revision": row.revision_id,
        "until": row.until,
        "ended": f"{row.ended_by or ''} {row.ended_why}".strip(),
        "acts": [link(name, change_set=row.pk, back=back) for name in names if _may(name, person, row)],
    }


def _may(name: str, person: Person, row: ChangeSet) -> bool:
    """How it was built says the holder, or the desk for them."""
    own = person.pk == row.clearance.holder_id or person.has_role(Role.OPERATOR)
    return allowed(person, name) and (own or not ACTS[name].holders_own)
