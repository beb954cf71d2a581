"""What never happens, whatever people do: looked at after each act, at the very moment of it.

Judged by plain traces and queries of its own, not by the rules that should have kept it from happening.
"""

import datetime
from collections import Counter
from collections.abc import Mapping
from dataclasses import fields
from typing import ClassVar

from hypothesis import note

from circuits import asleft, positions, snapshot, story
from circuits.assemble import to_network
from circuits.core.trace import Answer, trace
from circuits.core.values import Network
from circuits.tables import current_rows, rows_by_id
from clearances import facts
from clearances.models import (
    ChangeSet,
    Clearance,
    FieldClearance,
    HoldReport,
    HotLineHold,
    LogEntry,
    Step,
    Tag,
)
from clearances.rules.transitions import TRANSITIONS
from clearances.services.verb import Done, Outcome, Refused

from .beside import OUT
from .given import nothing_against
from .going_on import GoingOn

State = Mapping[str, object]
LAYS_IN = ("confirm_change", "settle_change")


def last_said(hold: HotLineHold, *words: str) -> HoldReport | None:
    return hold.reports.filter(said__in=words).order_by("-pk").first()


class Never(GoingOn):
    """`states`, with `entered`, is what the log has told so far: the state of each thing."""

    acts: ClassVar[Counter[str]] = Counter()
    states: dict[tuple[str, str], str]

    def did(self, outcome: Outcome, *, seen: bool = False) -> Outcome:
        note(f"{type(outcome).__name__}: {outcome}"[:300])
        if isinstance(outcome, Refused):
            self.acts.update(f"no: {one.code}" for one in outcome.refusals)
        else:
            self.acts[outcome.entry.verb if isinstance(outcome, Done) else "stale"] += 1
        super().did(outcome, seen=seen)
        self.look()
        return outcome

    def begin(self) -> None:
        """Take the log as it stands for what has happened."""
        self.looked_at, self.states, self.entered = 0, {}, {}
        self.look(now=False)

    def look(self, *, now: bool = True) -> None:
        """What the new entries tell of was allowed; with `now`, as things stand at this moment too."""
        for entry in LogEntry.objects.filter(number__gt=self.looked_at).order_by("number"):
            self.looked_at = entry.number
            for kind, key, state in entry.data.get("changes", ()):
                if state is None:
                    continue
                came = self.entered.setdefault((kind, key), entry.entered_at)
                moved = self._moved(kind.replace(" ", "_"), key, state)
                if now and moved:
                    self._may_stand(kind, key, state)
                self._nothing_by_a_queue(entry, kind, state, came, moved=moved)
            if now and entry.verb in LAYS_IN and entry.data["revision"]:
                as_left(ChangeSet.objects.get(pk=entry.data["change_set"]))

    def _moved(self, kind: str, key: str, state: State) -> bool:
        """Is it in another state than before, by a move of the transition table?"""
        if kind not in TRANSITIONS:
            return False
        before, after = self.states.get((kind, key), ""), str(state["state"])
        self.states[kind, key] = after
        assert before == after or (before, after) in TRANSITIONS[kind]
        return before != after

    def _may_stand(self, kind: str, key: str, state: State) -> None:
        """What has just come about has all that it needs."""
        if (kind, state["state"]) == ("step", "given"):
            nothing_against(Step.objects.get(pk=key))
        if kind == "clearance":
            row = Clearance.objects.get(pk=key)
            if state["state"] == "released":
                assert not row.sign_ons.filter(off_at=None).exists()
                assert not row.ground_sets.filter(off_at=None).exists()
            if state["state"] == "given":
                parted(row)
        if kind == "hold" and state["state"] in OUT:
            hold = HotLineHold.objects.get(pk=key)
            for pair in (("reclose_off", "reclose_on"), ("tag_hung", "tag_off")):
                assert (last := last_said(hold, *pair))
                assert last.said == pair[0]
        if (kind, state["state"]) == ("field clearance", "on"):
            alone(FieldClearance.objects.get(pk=key))

    def _nothing_by_a_queue(
        self, entry: LogEntry, kind: str, state: State, came: datetime.datetime, *, moved: bool
    ) -> None:
        """What waited in a telephone binds nothing, and ends nothing that was entered since."""
        clock = entry.data.get("phone_clock")
        if not clock or not clock["late"]:
            return
        said, sent = (datetime.datetime.fromisoformat(clock[name]) for name in ("said_at", "sent_at"))
        pressed = entry.entered_at - (sent - said)
        if moved and kind in TRANSITIONS:
            assert state["state"] in {"frozen", "paused", "reported", "waiting", "finished"}
        if came > pressed and came < entry.entered_at:
            assert not state.get("off_at"), f"{kind} ended by what was said before it was entered"


def parted(row: Clearance) -> None:
    """With its own reported, tagged points open and every other device closed nothing reaches a clearance
    that is given, and nobody works inside it under a field clearance.
    """
    compiled = snapshot.compiled()
    state = trace(compiled, {point.device: point.blocking for point in facts.points_of(row)})
    inside = facts.limits_of(row, compiled)
    assert {state.answer(*at) for at in inside} == {Answer.DEENERGIZED}
    nodes = {node for node, _ in inside}
    assert not any(nodes & set(field.nodes) for field in FieldClearance.objects.filter(state="on"))


def alone(field: FieldClearance) -> None:
    """A field clearance: its device stands open, nobody else's tag is on it, and no clearance lies beyond."""
    assert set(field.phases) <= set(positions.open_phases().get(field.device_id, ""))
    assert not Tag.objects.filter(device=field.device_id, off_at=None).exists()
    compiled = snapshot.compiled()
    for row in Clearance.objects.filter(state__in=facts.OUT):
        assert not set(field.nodes) & {node for node, _ in facts.limits_of(row, compiled)}


def as_left(row: ChangeSet) -> None:
    """The network in use is the one of before with what was built laid over, and the board reasons on it."""
    assert row.revision_id
    rows = rows_by_id()
    # What was built as the network had it already makes no new one.
    last = row.revision_id - 1 if row.rows else row.revision_id
    before = {
        name: {str(next(iter(one.values()))): one for one in story.rows_at(name, last)} for name in rows
    }
    after = asleft.laid_over(before, asleft.read(row.rows))
    assert {name: dict(found) for name, found in after.items()} == rows
    in_use = snapshot.compiled().network
    tables = {name: list(current_rows(name)) for name in snapshot._TABLES}
    assert as_sets(in_use) == as_sets(to_network(tables, in_use.revision))


def as_sets(network: Network) -> dict[str, object]:
    """A network whatever the order in which its rows were read."""
    return {
        one.name: set(found) if isinstance(found := getattr(network, one.name), tuple) else found
        for one in fields(network)
    }
