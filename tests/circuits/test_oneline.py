"""The drawing: nothing over anything else, and everything that the picture tells in words too."""

import time

import pytest

from circuits.core.limits import between
from circuits.core.network import Capacitor, Compiled, normally_open
from circuits.core.trace import trace
from circuits.oneline import Band, OneLine, Part, draw, draw_parts
from circuits.oneline.shapes import Text
from tests import networks
from tests.circuits.feeder import MAIN, feeder
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


def nothing_lies_over_anything(drawing: OneLine) -> None:
    width = drawing.width
    boxes = [(text.words, box(text)) for text in drawing.texts]
    for _, (left, top, right, bottom) in boxes:
        assert left >= -1
        assert top >= 0
        assert right <= width + 1
        assert bottom <= drawing.height
    boxes.sort(key=lambda one: one[1][1])
    for place, (one, a) in enumerate(boxes):
        for other, b in boxes[place + 1 :]:
            if b[1] >= a[3]:
                break
            apart = a[2] <= b[0] or b[2] <= a[0]
            assert apart, (one, other)


@pytest.mark.parametrize("width", [350, 640, 960])
def test_no_words_lie_over_others_or_outside(demo: Compiled, width: int) -> None:
    nothing_lies_over_anything(section(demo, width, C_221="ABC", F_217="B"))


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


@pytest.fixture(scope="module")
def long() -> Compiled:
    return feeder()


def parts(compiled: Compiled, bands: tuple[Band, ...] = (), **opened: str) -> list[Part]:
    """The parts of feeder 9 with these devices open, `_` for `-`, and a tag on C-4."""
    state = trace(compiled, {name.replace("_", "-"): phases for name, phases in opened.items()})
    return draw_parts(compiled=compiled, state=state, circuit="9", tags={"C-4": ["7-1"]}, bands=bands)


def test_a_long_feeder_is_drawn_in_time_and_nothing_lies_over_anything(long: Compiled) -> None:
    assert len(long.network.devices) == 601
    parts(long)  # the order of the rows is found once a revision
    began = time.process_time()
    drawn = parts(long, F_801="B")
    # The page may take a second; measured at 0.1 s for the drawing.
    assert time.process_time() - began < 0.7
    for part in drawn:
        nothing_lies_over_anything(part.oneline)


def test_what_the_picture_has_the_sentences_have_device_by_device(long: Compiled) -> None:
    drawn = parts(long, F_801="B")
    anchors = [one for part in drawn for text in part.oneline.texts for one in text.anchors]
    said = [sentence for part in drawn for sentence in part.oneline.sentences]
    for device in long.network.devices:
        assert anchors.count(f"device-{device.id}") == 1
        assert len([one for one in said if one.startswith(f"{device.id} at ")]) == 1
    assert "F-801 at P-801, Street 8: B open." in said
    assert len(anchors) == len(set(anchors))


def test_only_a_lateral_on_which_all_is_as_it_should_be_is_quiet(long: Compiled) -> None:
    main, *laterals = parts(long, bands=(Band("8 · Duarte · 2 on", [("P-603", "A")]),), F_801="B", C_12="A")
    assert not main.quiet
    assert not main.words
    assert len(laterals) == MAIN // 2 - 1  # the last one is the end of the main
    loud = {part.words.split(" ")[0]: part for part in laterals if not part.quiet}
    # A tag; a work clearance; a device open; nothing behind an open cutout is energized.
    assert list(loud) == ["C-4", "C-6", "C-8", "C-12"]
    quiet = next(part for part in laterals if part.quiet)
    assert quiet.words == ("C-2 at P-2, Dock Street, to P-214, Street 2 · B · 15 devices · 14 customers")


def test_a_lateral_holds_what_branches_from_it(demo: Compiled) -> None:
    state = trace(demo, normally_open(demo.network))
    drawn = draw_parts(compiled=demo, state=state, circuit="12")
    whole = draw(compiled=demo, state=state, around="12")
    assert [part.number for part in drawn] == [1, 2, 3]
    assert sum(len(part.oneline.strokes) for part in drawn) == len(whole.strokes)
    assert [one for part in drawn for one in part.oneline.sentences] == whole.sentences


def test_a_tie_that_is_drawn_nowhere_is_told_with_its_position() -> None:
    compiled = networks.ring()
    drawing = draw(compiled=compiled, state=trace(compiled, {}), around="F12")
    assert "P-4 is joined to P-2 by line L42." in drawing.sentences
