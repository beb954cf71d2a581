"""Changes of the network as the trade makes them, each as changes to the rows of its tables.

A change is a small pure function from rows to row changes: a switch set in a span, a transformer moved to
another phase. So what is planned, what is built and what an import brings can be held against each other
cell by cell. There is none of a transformer's winding tap: a network package has no column for it.
"""

from collections.abc import Callable, Iterable, Mapping

from .lines import (
    add_device,
    add_span,
    change_link,
    normal_position,
    remove_device,
    remove_span,
    set_switch,
    temporary_jumper,
)
from .rows import (
    CannotBeError,
    Changes,
    Row,
    RowChange,
    Rows,
    laid_over,
    merged,
    moved_positions,
    read,
    written,
)
from .transformers import move_transformer

__all__ = [
    "TRADE",
    "CannotBeError",
    "Changes",
    "Row",
    "RowChange",
    "Rows",
    "laid_over",
    "made",
    "merged",
    "moved_positions",
    "read",
    "written",
]

# By name, as a plan keeps them: what it takes is the function's own keywords.
TRADE: dict[str, Callable[..., Changes]] = {
    one.__name__: one
    for one in (
        set_switch,
        move_transformer,
        normal_position,
        change_link,
        add_span,
        remove_span,
        add_device,
        remove_device,
        temporary_jumper,
    )
}


def made(rows: Rows, planned: Iterable[tuple[str, Mapping[str, str]]]) -> Changes:
    """The row changes of trade changes after each other, each on what the earlier ones leave."""
    found: list[RowChange] = []
    for name, given in planned:
        found += TRADE[name](laid_over(rows, found), **given)
    return merged(found)
