"""Every page answers at every stage of a job, in a number of queries that does not grow with the work."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clearances.models import Interruption
from tests.cast import STAGES, Cast

from .looking import signed_in, text_of

# Words that promise, or that mean two things at a pole (practice of the trade).
NEVER = re.compile(
    r"\bsafe(ly|ty)?\b|\d ?%|\bhot\b(?!-line hold)|\bdead\b|\bETA\b|\bETR\b|\bOK\b", re.IGNORECASE
)


@pytest.mark.parametrize("stage", STAGES)
def test_every_page_answers_at_every_stage(cast: Cast, stage: str) -> None:
    job = cast.job(stage)
    for person, path, most in (
        (cast.dana, "/desk/", 62),  # some of them once for each version of an order and each network
        (cast.dana, f"/desk/clearances/{job.pk}/", 53),
        (cast.ines, f"/field/clearances/{job.pk}/", 50),
        (cast.ana, "/field/", 20),
        (cast.ana, f"/field/clearances/{job.pk}/", 50),
        (cast.mira, "/service/?q=quarry", 20),
        (cast.mira, "/service/?premises=1141", 20),
    ):
        client = signed_in(person)
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(path)
        assert answer.status_code == 200, path
        assert len(queries) <= most, (path, len(queries))
        text = text_of(answer.content.decode())
        assert not NEVER.search(text), NEVER.search(text)


def test_the_desk_reads_no_more_often_for_four_clearances_than_for_two(cast: Cast) -> None:
    cast.job("working")
    cast.asked(holder=cast.bo, from_pole="P-281", to_pole="P-282")
    client = signed_in(cast.dana)
    client.get("/desk/")
    with CaptureQueriesContext(connection) as for_two:
        client.get("/desk/")
    for poles in (("P-272", "P-273"), ("P-278", "P-279")):
        cast.asked(holder=cast.bo, from_pole=poles[0], to_pole=poles[1])
    with CaptureQueriesContext(connection) as for_four:
        answer = client.get("/desk/")
    assert len(answer.context["upcoming"]) == 3
    assert len(for_four) == len(for_two)
    assert Interruption.objects.filter(on_at=None).count() == 62
