"""The drawing: nothing over anything else, and everything that the picture tells in words too."""

from itertools import combinations

import pytest

from circuits.core.limits import between
from circuits.core.network import Capacitor, Compiled, normally_open
from circuits.core.trace import trace
from circuits.oneline import Band, OneLine, draw
from circuits.oneline.pen import Text
from tests import networks
from tests.core.conftest import demo as demo

# A wide face at 12 px; measured in Chromium with DejaVu Sans.
LETTER = {"title": 9.0, "state": 7.6, "band": 7.9, "device": 7.9, "under": 7.6}


def section(demo: Compiled, width: int = 960, **opened: str) -> OneLine:
    """The section of the example with its two clearances, further devices open by name, `_` for `-`."""
    further = {name.replace("_", "-"): phases for name, phases in opened.items()}
    state = trace(demo, normally_open(demo.network) | {"J-207": "ABC", "C-208": "ABC"} | further)
    limits = between(demo, "P-213", "P-218", "ABC").nodes
    return draw(
        compiled=demo,
        state=state,
        around=[node for node, _ in limits],
        width=width,
        tags={"C-208": ["42-1", "41-1"], "J-207": ["42-2"], "F-217": ["43-1"]},
        bands=[
            Band("41 · Duarte · 6", limits),
            Band("42 · Lindqvist · 6", [("P-207j", "ABC"), ("P-208", "ABC")]),
        ],
    )


def box(text: Text) -> tuple[float, float, float, float]:
    width = len(text.words) * LETTER.get(text.style.split()[0], 7.2)
    starts = text.style in ("title", "state", "band", "pole first")
    left = text.x if starts else text.x - width * (1.0 if text.style == "band last" else 0.5)
    return left, text.y - 10, left + width, text.y + 2


@pytest.mark.parametrize("width", [350, 640, 960])
def test_no_words_lie_over_others_or_outside(demo: Compiled, width: int) -> None:
    drawing = section(demo, width, C_221="ABC", F_217="B")
    boxes = [(text.words, box(text)) for text in drawing.texts]
    for _, (left, top, right, bottom) in boxes:
        assert left >= -1
        assert top >= 0
        assert right <= width + 1
        assert bottom <= drawing.height
    for (one, a), (other, b) in combinations(boxes, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one, other)


def test_states_are_told_in_words_over_the_strip(demo: Compiled) -> None:
    said = [text.words for text in section(demo, C_221="A").texts]
    assert "P-208 to P-214: A: possibly backfed, voltage not known; B, C: energized" in said
    assert "P-207 to P-208: A, B, C: de-energized by report" in said
    assert not [words for words in said if words == "P-207: A, B, C: energized"]


def test_every_style_in_the_picture_is_in_the_legend(demo: Compiled) -> None:
    assert section(demo, C_221="A").legend == [
        ("energized", "energized"),
        ("backfed", "possibly backfed, voltage not known"),
        ("deenergized", "de-energized by report"),
    ]
    assert ("generator", "a customer's generator may feed it") in section(demo, C_221="ABC").legend


def test_positions_and_tags_stand_at_the_device_with_their_phases(demo: Compiled) -> None:
    said = [text.words for text in section(demo, C_221="AC", F_217="B").texts]
    after = {
        name: said[said.index(name) + 1 : said.index(name) + 4]
        for name in ("J-207", "C-208", "C-221", "F-217")
    }
    assert after["J-207"][:2] == ["A B C lifted", "tag 42-2"]
    assert after["C-208"] == ["A B C open", "tag 42-1", "tag 41-1"]
    assert after["C-221"][0] == "A C open"
    assert after["F-217"] == ["B open", "tag 43-1", "T-217"]


def test_the_sentences_say_it_all(demo: Compiled) -> None:
    said = section(demo, C_221="A").sentences
    assert "C-208 at P-208, Quarry Lane: A, B, C open; device tags 42-1, 41-1." in said
    assert "C-221 at P-221, Quarry Lane: B, C closed; A open." in said
    assert "T-213 at P-213, Quarry Lane: 4 customers, 1 with life-support; C: energized." in said
    assert "T-218 at P-218, Quarry Lane: 1 customer; A, B, C: possibly backfed, voltage not known." in said
    assert "Work clearance 42 · Lindqvist · 6: P-207 to P-208, A, B, C." in said


def test_a_clearance_is_a_box_in_each_strip_that_it_reaches(demo: Compiled) -> None:
    drawing = section(demo)
    assert [text.words for text in drawing.texts if text.style == "band"].count("41 · Duarte · 6") == 2
    assert len(drawing.boxes) == 3


def test_a_circuit_says_from_row_to_row_where_it_goes(demo: Compiled) -> None:
    drawing = draw(compiled=demo, state=trace(demo, normally_open(demo.network)), around="12")
    notes = [text.words for text in drawing.texts if text.style == "note"]
    assert [note for note in notes if "row" in note] == ["to row 2", "to row 3", "row 1", "row 1", "row 1"]
    titles = [text.words for text in drawing.texts if text.style == "title"]
    assert titles[0] == "Row 1 · Ferry Street"
    assert "Row 1, on from P-231" in titles
    assert titles[-1] == "Row 3 · Weir Close"


def test_a_loop_inside_a_row_is_told_in_a_sentence() -> None:
    compiled = networks.ring()
    drawing = draw(compiled=compiled, state=trace(compiled, {}), around="F12")
    assert "P-4 is joined to P-2 by line L42." in [text.words for text in drawing.texts]


def test_a_capacitor_and_a_transformer_without_a_cutout() -> None:
    compiled = networks.couplings(Capacitor("K-2", "P-2", "ABC", "wye"))
    drawing = draw(compiled=compiled, state=trace(compiled, {}), around=["P-2"])
    assert {"transformer", "capacitor"} <= {mark.style for mark in drawing.marks}
    assert "K-2" in [text.words for text in drawing.texts]
