"""A row of the bench: what ours takes, what a named peer takes in the same run, and whether that will do.

Times on a machine that does other things as well mean little alone; a ratio of two that took turns does.
"""

import gc
import json
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Row:
    """`ours` and `peer` in `unit`, `ratio` is ours to the peer; `target` says in words what `met` judges."""

    name: str
    on: str
    unit: str
    ours: float
    peer_name: str
    peer: float
    target: str
    met: bool

    @property
    def ratio(self) -> float:
        return self.ours / self.peer


def race(ours: Callable[[], object], peer: Callable[[], object], *, rounds: int = 7) -> tuple[float, float]:
    """The best time of each in milliseconds, taking turns after one turn that doesn't count."""
    best = [float("inf"), float("inf")]
    for number in range(rounds + 1):
        for place, run in enumerate((ours, peer)):
            gc.collect()
            start = time.perf_counter()
            run()
            took = (time.perf_counter() - start) * 1000
            if number:
                best[place] = min(best[place], took)
    return best[0], best[1]


def report(rows: Iterable[Row], path: Path) -> str:
    """Write the rows as JSON, and give them as a table for people."""
    found = list(rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps([asdict(row) | {"ratio": row.ratio} for row in found], indent=1) + "\n")
    head = ("what", "on", "ours", "peer", "ratio", "target", "met")
    cells = [head] + [
        (
            row.name,
            row.on,
            f"{row.ours:.3g} {row.unit}",
            f"{row.peer:.3g} {row.unit} ({row.peer_name})",
            f"{row.ratio:.3g}",
            row.target,
            "yes" if row.met else "NO",
        )
        for row in found
    ]
    widths = [max(len(line[column]) for line in cells) for column in range(len(head))]
    lines = ("  ".join(map(str.ljust, line, widths)).rstrip() for line in cells)
    return "\n".join(lines)
