"""Load picked up by a tie, attacked: what a lineworker at the tie, a crew that works energized and whoever
reads the printed order must not be told wrongly."""

from clearances.models import Clearance, Step
from clearances.pages import papers
from tests.cast import Cast

from .test_pick_ups import fresh, job

__all__ = ["job"]  # the fixture


def printed(clearance: Clearance) -> list[tuple[str, str, str, int]]:
    paper = papers.order(fresh(clearance))
    return [
        (row["step"].device_id, row["before"], row["after"], row["out"])
        for row in (*paper["isolate"], *paper["restore"])
        if row["step"].operation != Step.Operation.REMOVE_TAG
    ]


def test_the_printed_order_starts_with_the_tie_open(cast: Cast, job: Clearance) -> None:
    """Whenever it is printed: a tie that reads closed before it is closed is one that nobody goes to."""
    cast.bring(job, "told", since="points chosen")
    opened, closed = "A, B, C open", "A, B, C closed"
    order = [
        ("N-7", opened, closed, 0),
        ("B-14", closed, opened, 0),
        ("R-31", closed, opened, 17),
        ("R-31", opened, closed, 0),
        ("B-14", opened, closed, 0),
        ("N-7", closed, opened, 0),
    ]
    assert printed(job) == order
    (tie, *_) = cast.steps(job, "isolate")
    cast.give_step(job, tie)
    cast.report_step(tie)
    assert printed(job) == order
