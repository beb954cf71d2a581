"""The size of what is connected, in words."""

from clearances.rules.loading import BehindLink, OnCircuit


def test_a_circuit_before_and_after() -> None:
    worse = OnCircuit("feeder 12", {"A": 100.0, "B": 125.0, "C": 90.0}, {"A": 100.0, "B": 100.0, "C": 140.04})
    assert worse.sentence == (
        "Transformers of feeder 12: A 100, B 125, C 90 kVA, with it A 100, B 100, C 140 kVA. Its phases are "
        "35 kVA apart, with it 40: LESS BALANCED than before."
    )
    better = OnCircuit("feeder 12", {"A": 25.0}, {"A": 12.5, "B": 12.5})
    assert better.sentence.endswith("Its phases are 25 kVA apart, with it 12.5.")


def test_what_hangs_behind_a_link() -> None:
    assert BehindLink("C-221", "40K", {"B": 25.0, "C": 75.0}).sentence == (
        "Behind C-221, link 40K: A 0, B 25, C 75 kVA. Compare with the link."
    )
    assert BehindLink("C-221", "40K", {}).sentence == (
        "On C-221, link 40K, no transformer hangs alone: another way feeds them too."
    )
