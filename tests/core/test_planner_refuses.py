"""What the planner says where there is no plan, or where one does not pass its proof."""

from dataclasses import replace
from typing import Any

import pytest

from circuits.core.network import (
    Compiled,
    Device,
    compile_network,
)
from circuits.core.planning import planner
from circuits.core.planning.loading import Ratings
from circuits.core.planning.model import Choice, Program
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import CannotPlanError, Question, sentences
from tests import networks
from tests.core.test_planner import ask, two_feeders


class TestWhatCannotBePlanned:
    def test_limits_that_hold_nothing(self) -> None:
        with pytest.raises(CannotPlanError, match=r"^Nothing is inside these limits\.$"):
            ask(two_feeders())

    def test_limits_that_no_source_reaches(self) -> None:
        with pytest.raises(CannotPlanError, match="No source on record reaches these limits"):
            ask(two_feeders(sources=()), ("P-1", "A"))

    def test_limits_at_a_station(self) -> None:
        with pytest.raises(CannotPlanError, match=r"station ST1 \(phase A\)"):
            ask(two_feeders(), ("bus1", "A"))

    def test_a_node_or_a_phase_that_is_not_there(self) -> None:
        with pytest.raises(ValueError, match="no node P-99"):
            ask(two_feeders(), ("P-99", "A"))
        with pytest.raises(ValueError, match="node P-1 has no phase B"):
            ask(two_feeders(), ("P-1", "B"))

    def test_no_time_at_all(self) -> None:
        found = plans(two_feeders(), Question((("P-1", "A"),), {"N-7": "A"}), seconds=0.0)
        assert found.plans == ()
        assert found.told[0] == "No plan was found in the time given."

    def test_none_found(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(Program, "solve", lambda self, seconds: None)
        assert ask(two_feeders(), ("P-1", "A")).told[0] == "No plan was found in the time given."

    def test_the_best_so_far_is_told_with_its_gap(self, monkeypatch: pytest.MonkeyPatch) -> None:
        solve = Program.solve

        def interrupted(self: Program, seconds: float) -> Choice | None:
            found = solve(self, seconds)
            assert found
            return Choice(
                found.opened, found.checked, found.closed, found.dead, found.price, 0.25, proven=False
            )

        monkeypatch.setattr(Program, "solve", interrupted)
        found = ask(two_feeders(), ("T-2s", "A"))
        assert len(found.plans) == 1
        last = sentences(two_feeders(), found.plans[0])[-1]
        assert last == ("The time ran out: another plan may have up to 3.0 fewer customers out, weighted.")


class TestWhatDoesNotPassTheProof:
    """A program gone wrong: every plan is proved without it."""

    def thrown(self, monkeypatch: pytest.MonkeyPatch, compiled: Compiled, limit: str, **wrong: Any) -> str:
        def choice(self: Program, seconds: float) -> Choice | None:
            def numbers(names: str) -> tuple[int, ...]:
                units = enumerate(self.ground.units)
                return tuple(at for at, unit in units if unit.device.id in names.split())

            dead = frozenset(self.ground.place[compiled.point(*at)] for at in wrong.get("dead", ()))
            return Choice(
                numbers(wrong.get("opened", "")),
                numbers(wrong.get("checked", "")),
                numbers(wrong.get("closed", "")),
                dead,
                0.0,
                0.0,
                proven=True,
            )

        monkeypatch.setattr(Program, "solve", choice)
        monkeypatch.setattr(Program, "rule_out", lambda *_: None)
        monkeypatch.setattr(planner, "_new_ring", lambda *_: [])
        found = ask(compiled, (limit, "A"), how_many=1, **wrong.get("more", {}))
        assert found.plans == ()
        assert len(found.thrown_away) == 1
        return found.thrown_away[0]

    def test_limits_that_would_still_be_fed(self, monkeypatch: pytest.MonkeyPatch) -> None:
        said = self.thrown(monkeypatch, two_feeders(), "P-1", opened="S-1")
        assert "points S-1 was thrown away" in said
        assert "the limits would still be fed: station ST1 > B-1 > P-1" in said

    def test_other_customers(self, monkeypatch: pytest.MonkeyPatch) -> None:
        said = self.thrown(monkeypatch, two_feeders(), "P-1", opened="S-1 B-1")
        assert said.endswith("the trace finds other customers out than the plan.")

    def test_what_is_not_energized_now(self, monkeypatch: pytest.MonkeyPatch) -> None:
        more = {"open_now": {"N-7": "A", "S-1": "A"}}
        said = self.thrown(
            monkeypatch, two_feeders(), "P-1", opened="B-1", checked="S-1", closed="N-7", more=more
        )
        assert said.endswith("it would energize what is not energized now.")

    def test_unlike_phases(self, monkeypatch: pytest.MonkeyPatch) -> None:
        section = networks.two_feed_section().network
        tie = Device("U-1", "T-3s", "T-5s", "A", "", kind="secondary_tie")
        compiled = compile_network(replace(section, devices=(*section.devices, tie)))
        dead = [("P-3", "A"), ("P-3", "B")]
        said = self.thrown(monkeypatch, compiled, "P-3", opened="C-208 C-221", closed="U-1", dead=dead)
        assert "unlike phases are joined by U-1" in said

    def test_a_loop(self, monkeypatch: pytest.MonkeyPatch) -> None:
        said = self.thrown(
            monkeypatch, two_feeders(), "T-2s", opened="F-2", closed="N-7", dead=[("T-2s", "A")]
        )
        assert "stations ST1 and ST2 are paralleled" in said

    @pytest.mark.parametrize(("opened", "closed"), [("B-1 S-1 F-2", ""), ("B-1 S-1", "N-7")])
    def test_what_is_shared_moved(self, monkeypatch: pytest.MonkeyPatch, opened: str, closed: str) -> None:
        more = {"shared": {"F-2": "F-2 too.", "N-7": "N-7 too."}}
        said = self.thrown(monkeypatch, two_feeders(), "P-1", opened=opened, closed=closed, more=more)
        assert said.endswith(" is another's point too, and would be operated without one here.")

    def test_too_full(self, monkeypatch: pytest.MonkeyPatch) -> None:
        ratings = Ratings({("device", "N-7"): 1.0})
        said = self.thrown(
            monkeypatch, two_feeders(), "P-1", opened="B-1 S-1", closed="N-7", more={"ratings": ratings}
        )
        assert said.endswith("device N-7 would carry more than it may.")
