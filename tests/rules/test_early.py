"""Power that comes back before the hour that was told."""

import datetime

from clearances.rules.early import Early, early

NOON = datetime.datetime(2026, 5, 14, 12, tzinfo=datetime.UTC)


def test_how_many_until_when_and_whose_machine_may_run() -> None:
    one = Early(
        41, ((NOON, 62), (NOON.replace(hour=15), 1)), ("standby generator GEN-219 at 41 Quarry Lane",)
    )
    (flag,) = early([one])
    assert (flag.code, flag.about, flag.level, flag.clearance) == ("back_early", "41", "soon", 41)
    assert flag.text == (
        "Order 41 puts power back earlier than told: 62 customers were told until 12:00 and 1 customer was "
        "told until 15:00. Before the first close reach whoever has a machine that may run until then: "
        "standby generator GEN-219 at 41 Quarry Lane."
    )


def test_without_a_machine_it_is_only_told() -> None:
    assert Early(41, ((NOON, 2),)).sentence == (
        "Order 41 puts power back earlier than told: 2 customers were told until 12:00."
    )
