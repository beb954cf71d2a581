"""Which devices may be taken for which."""

from circuits.core.network import Compiled, normally_open
from circuits.core.rehearsing.lookalikes import one_slip_apart, taken_for
from circuits.core.rehearsing.rehearsal import CLOSE, OPEN, Move


def test_labels_one_slip_of_the_eye_apart() -> None:
    assert [one_slip_apart("C-208", other) for other in ("C-280", "C-308", "C-2081", "C-28", "D-208")] == [
        True
    ] * 5
    assert [one_slip_apart("C-208", other) for other in ("C-380", "C-28x", "C-802", "C-2")] == [False] * 4


def test_a_label_alike_anywhere_and_the_same_kind_near_by(demo: Compiled) -> None:
    stands = normally_open(demo.network)
    taken = dict(taken_for(Move("1", "C-208", "ABC", OPEN), demo, stands))
    assert taken["C-280"] == "ABC"
    assert dict(taken_for(Move("1", "F-217", "B", OPEN), demo, stands))["F-219"] == "B"


def test_only_what_could_be_so_operated(demo: Compiled) -> None:
    stands = normally_open(demo.network)
    assert "C-280" not in dict(taken_for(Move("1", "C-208", "ABC", CLOSE), demo, stands))
    assert dict(taken_for(Move("1", "C-208", "A", CLOSE), demo, {**stands, "C-280": "AB"}))["C-280"] == "A"


def test_nothing_is_taken_for_a_device_that_is_not_there(demo: Compiled) -> None:
    assert list(taken_for(Move("1", "C-999", "ABC", OPEN), demo, {})) == []
