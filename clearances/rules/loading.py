"""The size of what is connected, in words: by phase on a circuit, and behind a link. It is no load and no
current; nothing is refused by it."""

from collections.abc import Mapping
from dataclasses import dataclass

from .words import PHASES


def by_phase(kva: Mapping[str, float]) -> str:
    """The kVA of each phase.

    >>> by_phase({"A": 25.0, "C": 37.5})
    'A 25, B 0, C 37.5 kVA'
    """
    return ", ".join(f"{phase} {round(kva.get(phase, 0), 1):g}" for phase in PHASES) + " kVA"


def apart(kva: Mapping[str, float]) -> float:
    """By how many kVA the greatest phase is above the smallest."""
    sizes = [kva.get(phase, 0.0) for phase in PHASES]
    return round(max(sizes) - min(sizes), 1)


@dataclass(frozen=True, slots=True)
class OnCircuit:
    """Transformers of a circuit by phase, before a change and with it."""

    name: str
    before: Mapping[str, float]
    after: Mapping[str, float]

    @property
    def sentence(self) -> str:
        was, then = apart(self.before), apart(self.after)
        text = (
            f"Transformers of {self.name}: {by_phase(self.before)}, with it {by_phase(self.after)}. Its "
            f"phases are {was:g} kVA apart, with it {then:g}"
        )
        return text + (": LESS BALANCED than before." if then > was else ".")


@dataclass(frozen=True, slots=True)
class BehindLink:
    """Transformers that hang on one link alone, by phase."""

    device: str
    link: str
    kva: Mapping[str, float]

    @property
    def sentence(self) -> str:
        if not self.kva:
            return (
                f"On {self.device}, link {self.link}, no transformer hangs alone: another way feeds them too."
            )
        return f"Behind {self.device}, link {self.link}: {by_phase(self.kva)}. Compare with the link."
