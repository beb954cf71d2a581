"""A utility under another jurisdiction lays its own clauses over the federal ones: the page and the API name
the same clause, with its mark."""

import json
from uuid import uuid4

from pytest_django import Settings

from clearances.rules import clauses
from tests.cast import Cast

from .looking import signed_in

OWN = "29 CFR 1926.961(c)(2)"


def test_page_and_api_name_the_utility_s_own_clause(cast: Cast, settings: Settings) -> None:
    job = cast.job("points chosen")
    settings.CLAUSES = {"all_opened": clauses.read("all_opened", {"number": OWN, "mark": "from memory"})}
    sent = {"key": str(uuid4()), "clearance": job.pk, "version": job.version, "password": "dana-orrin-vale"}
    client = signed_in(cast.dana)
    page = client.post(f"/do/give_clearance/?clearance={job.pk}", sent).content.decode()
    assert f"{OWN} (from memory)" in page
    assert "1910.269(m)(3)(ii)" not in page
    assert "second person&#x27;s check of the order" in page
    answer = client.post("/api/v1/do/give_clearance/", json.dumps(sent), content_type="application/json")
    assert (OWN, "from memory") in {(one["clause"], one["mark"]) for one in answer.json()["refusals"]}
