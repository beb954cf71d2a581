"""What calls say together."""

from collections.abc import Iterable

from clearances.rules.calls import Heard, half, outside
from clearances.rules.flags import Flag

FROM_OUTSIDE = "1 call outside the planned area, nearest device C-221: 13 Chapel Row."
NOWHERE = "1 call outside the planned area, no device near it stands open: 2 Weir Close."
DOUBT = (
    "2 calls outside the planned area, nearest device C-221: 13 Chapel Row, 14 Chapel Row. Does the record "
    "have these customers behind the right transformer?"
)
ONE_HALF = (
    "Half bright, half dim behind a transformer that is not known, 1 call (a barn): a lost neutral? Ask "
    "about the neutral at the cut span."
)
TWO_HALF = (
    "Half bright, half dim behind T-217, 2 calls (1 Quarry Lane, 3 Quarry Lane): a lost neutral? Ask about "
    "the neutral at the cut span."
)


def said(flags: Iterable[Flag]) -> list[tuple[str, str, str]]:
    found = list(flags)
    assert all(flag.level == "now" for flag in found)
    return [(flag.code, flag.about, flag.text) for flag in found]


def test_one_call_from_outside_is_told() -> None:
    one = Heard("13 Chapel Row", "C-221", "T-292")
    assert said(outside([one])) == [("call_outside", "C-221", FROM_OUTSIDE)]


def test_two_at_one_device_put_the_record_in_doubt() -> None:
    calls = [Heard("13 Chapel Row", "C-221"), Heard("2 Weir Close"), Heard("14 Chapel Row", "C-221")]
    assert said(outside(calls)) == [("call_outside", "", NOWHERE), ("connectivity", "C-221", DOUBT)]


def test_half_bright_is_told_by_transformer() -> None:
    calls = [Heard("1 Quarry Lane", transformer="T-217"), Heard("3 Quarry Lane", transformer="T-217")]
    assert said(half([*calls, Heard("a barn")])) == [
        ("lost_neutral", "", ONE_HALF),
        ("lost_neutral", "T-217", TWO_HALF),
    ]
