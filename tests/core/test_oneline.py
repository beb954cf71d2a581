"""In which rows a circuit or a section is drawn."""

import pytest

from circuits.core.network import Capacitor, Compiled, Regulator
from circuits.core.oneline import Row, layout
from tests import networks


def nodes(row: Row) -> list[str]:
    return [stop.node for stop in row.stops]


class TestTheExample:
    def test_the_section_is_one_row_in_pole_order_from_the_source(self, demo: Compiled) -> None:
        (row,) = layout(demo, ["P-214", "P-215"]).rows
        assert nodes(row) == [
            *("P-207", "P-207j", "P-208", "P-208b"),
            *(f"P-{number}" for number in range(209, 221)),
            *("P-221b", "P-221"),
        ]
        assert [span.id for span in row.spans if span.kind == "device"] == ["J-207", "C-208", "C-221"]

    def test_what_hangs_at_a_pole_hangs_behind_its_cutout(self, demo: Compiled) -> None:
        (row,) = layout(demo, ["P-214"]).rows
        drops = {
            stop.node: [(drop.id, drop.device) for drop in stop.drops] for stop in row.stops if stop.drops
        }
        assert drops["P-217"] == [("T-217", "F-217")]
        assert list(drops) == ["P-210", "P-212", "P-213", "P-217", "P-218", "P-219", "P-220"]

    def test_the_network_goes_on_at_both_ends(self, demo: Compiled) -> None:
        (row,) = layout(demo, ["P-214"]).rows
        assert [stop.node for stop in row.stops if stop.goes_on] == ["P-207", "P-221"]

    def test_a_circuit_is_a_spine_and_branches_and_a_fed_at_both_ends_one_says_where_it_ends(
        self, demo: Compiled
    ) -> None:
        spine, section, close = layout(demo, "12").rows
        assert (nodes(spine)[0], nodes(spine)[-1]) == ("ST-1", "P-287")
        assert (section.origin, section.lead and section.lead.id) == ("P-207", "J-207")
        assert (nodes(section)[0], nodes(section)[-1]) == ("P-207j", "P-221b")
        assert [(node, span.id, beyond) for node, span, beyond in section.closes] == [
            ("P-221b", "C-221", "P-221")
        ]
        assert (close.origin, nodes(close)) == ("P-236", ["P-236b", "P-251", "P-252", "P-253"])

    def test_every_primary_stop_of_a_circuit_is_drawn_once(self, demo: Compiled) -> None:
        drawn = [node for row in layout(demo, "14").rows for node in nodes(row)]
        assert len(drawn) == len(set(drawn))
        assert {f"P-{number}" for number in range(271, 288)} <= set(drawn)
        assert "B-12" not in drawn

    def test_a_secondary_node_has_no_place_and_a_node_behind_a_cutout_has_its_poles(
        self, demo: Compiled
    ) -> None:
        assert layout(demo, ["T-217s"]).rows == ()
        assert "P-217" in nodes(layout(demo, ["P-217t"]).rows[0])


def test_parts_that_do_not_hang_together_have_a_spine_each(demo: Compiled) -> None:
    first, second = layout(demo, ["P-252", "P-292"]).rows
    assert nodes(first) == ["P-280", "P-280b", "P-291", "P-292", "P-293"]
    assert nodes(second) == ["P-236", "P-236b", "P-251", "P-252", "P-253"]


def test_a_loop_is_told_once() -> None:
    rows = layout(networks.two_feed_section(), "F12").rows
    assert [span.id for row in rows for _, span, _ in row.closes] == ["C-221"]
    (row,) = layout(networks.ring(), "F12").rows
    assert [(node, span.id, beyond) for node, span, beyond in row.closes] == [("P-4", "L42", "P-2")]


def test_capacitors_hang_too_and_regulators_are_on_the_way() -> None:
    compiled = networks.couplings(
        Capacitor("K-2", "P-2", "ABC", "wye"), Regulator("R-2", "P-2", "P-2b", "ABC")
    )
    (row,) = layout(compiled, ["P-2"]).rows
    assert nodes(row) == ["P-1", "P-1a", "P-2", "P-2b"]
    assert [(drop.kind, drop.id, drop.device) for drop in row.stops[2].drops] == [
        ("transformer", "T-2", ""),
        ("capacitor", "K-2", ""),
    ]
    assert [span.kind for span in row.spans] == ["device", "line", "regulator"]


def test_what_is_not_there() -> None:
    with pytest.raises(ValueError, match="no circuit F99"):
        layout(networks.radial_tap(), "F99")
    with pytest.raises(ValueError, match="no node P-99"):
        layout(networks.radial_tap(), ["P-99"])
