"""The page of plans: side by side in the frame of a plan, and what is chosen fills the act of choosing."""

import datetime
import html
import re
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clearances.models import Clearance
from clearances.others import in_the_way
from tests.cast import Cast

from .beside import a_do_not_operate, a_field_clearance, a_hold
from .looking import signed_in, text_of
from .test_pages_all import NEVER


def page(cast: Cast, clearance: Clearance, person: str = "dana") -> str:
    answer = signed_in(getattr(cast, person)).get(f"/desk/clearances/{clearance.pk}/plans/")
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def asked(cast: Cast) -> Clearance:
    """The example's section is asked for; nothing is chosen."""
    return cast.job("asked")


def test_plans_are_side_by_side_in_the_frame_of_a_plan(cast: Cast, asked: Clearance) -> None:
    body = page(cast, asked)
    text = text_of(body)
    assert '<body class="desk plan"' in body
    assert "PLAN" in text
    assert "No order can be given from this page." in text
    assert "62 customers out" in text
    assert "Open C-208 (phases A, B, C) and tag it P-208, Quarry Lane" in text
    assert "it is the disconnect of GEN-219" in text
    assert "Life-support 1: 22 Quarry Lane" in text
    assert f"{62 * 240}" in text  # four hours
    assert "Customer-minutes" in text
    assert "Volts were not computed" in text
    assert not NEVER.search(text), NEVER.search(text)


def test_choosing_one_fills_the_act_of_choosing_points(cast: Cast, asked: Clearance) -> None:
    client = signed_in(cast.dana)
    links = re.findall(r'href="(/do/choose_points/[^"]+)">Choose this one', page(cast, asked))
    address = html.unescape(links[0])
    form = client.get(address)
    ticked = re.findall(r'value="([^"]+)"[^>]* checked', form.content.decode())
    devices = re.findall(r"device=([^&]+)", address)
    assert devices == ["C-208", "C-221", "D-219", "F-212"]
    assert ticked == devices
    values = {
        "devices": devices,
        "key": str(form.context["form"]["key"].value()),
        "version": form.context["form"]["version"].value(),
    }
    assert client.post(address, values).status_code == 303
    assert list(asked.points.values_list("device", flat=True)) == devices
    after = client.get(f"/do/choose_points/?clearance={asked.pk}").content.decode()
    assert "No source on record reaches the limits." in text_of(after)


def test_devices_in_the_address_that_are_not_there_are_left_out(cast: Cast, asked: Clearance) -> None:
    address = f"/do/choose_points/?clearance={asked.pk}&device=C-999&device=C-208"
    answer = signed_in(cast.dana).get(address)
    assert answer.context["form"].initial["devices"] == ["C-208"]


def test_the_clearance_s_page_leads_there_until_its_order_is_written(cast: Cast, asked: Clearance) -> None:
    client = signed_in(cast.dana)
    address = f"/desk/clearances/{asked.pk}/plans/"
    assert address in client.get(f"/desk/clearances/{asked.pk}/").content.decode()
    cast.bring(asked, "order written")
    assert address not in client.get(f"/desk/clearances/{asked.pk}/").content.decode()
    assert "the points of the order stand" in text_of(page(cast, asked))


def test_the_network_engineer_looks_and_chooses_nothing(cast: Cast, asked: Clearance) -> None:
    assert "Choose this one" in page(cast, asked, "dana")
    assert "Choose this one" not in page(cast, asked, "jon")


def test_what_another_has_in_those_hours_is_left_alone(cast: Cast) -> None:
    """Scenario S12 of the trade, and S09: a point that another holds open is shared, and not operated."""
    working = cast.job("working")
    asked = cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-210", phases="A")
    text = text_of(page(cast, asked))
    assert "Check C-208 open (phases A, B, C) and tag it, no operation needed" in text
    assert f"C-221: tag {working.pk}-2 of work clearance {working.pk}" in text
    now = in_the_way(None)
    assert now.kept.keys() == {"C-208", "C-221", "D-212", "D-219"}
    assert now.not_crossed["P-214"].startswith(f"work clearance {working.pk} (Ana Duarte) works there, ")
    assert in_the_way(None, working.pk).kept == {}
    later = (asked.promised_end, asked.promised_end + datetime.timedelta(hours=1))
    assert in_the_way(later).not_crossed == now.not_crossed  # out is out until it is released


def test_those_that_are_no_clearance_are_left_alone_too(cast: Cast) -> None:
    cast.job("asked")
    hold, field, customer = a_hold(cast), a_field_clearance(cast), a_do_not_operate(cast)
    kept = in_the_way(None).kept
    assert kept[hold.device_id] == f"hot-line hold {hold.number}"
    assert kept[field.device_id] == f"field clearance {field.number}"
    assert kept[customer.device_id] == f"do-not-operate {customer.number}"
    assert set(field.nodes) <= in_the_way(None).not_crossed.keys()


def test_in_a_number_of_queries_that_does_not_grow(cast: Cast, asked: Clearance) -> None:
    client = signed_in(cast.dana)
    client.get(f"/desk/clearances/{asked.pk}/plans/")
    with CaptureQueriesContext(connection) as queries:
        client.get(f"/desk/clearances/{asked.pk}/plans/")
    assert len(queries) <= 30


def test_no_such_clearance(cast: Cast) -> None:
    assert signed_in(cast.dana).get("/desk/clearances/9999/plans/").status_code == 404


def test_a_tie_whose_feed_would_cross_another_job_s_span_is_told_for_those_hours(cast: Cast) -> None:
    """Scenario S12 of the trade: refused for that window, with the reason in one sentence."""
    mine = cast.asked(holder=cast.ana, from_pole="P-201", to_pole="P-202", work="Change a crossarm")
    assert "N-7 picks nothing up" not in text_of(page(cast, mine))
    tomorrow = mine.window_start + datetime.timedelta(days=1)
    trim: dict[str, Any] = {"from_pole": "P-283", "to_pole": "P-285", "phases": "A", "work": "Trim trees"}
    cast.asked(holder=cast.bo, start=tomorrow, **trim)
    assert "N-7 picks nothing up" not in text_of(page(cast, mine))
    other = cast.asked(holder=cast.bo, **trim)
    words = rf"N-7 picks nothing up over P-28\d: work clearance {other.pk} \(Bo Lindqvist\) works there, "
    assert re.search(words, text_of(page(cast, mine)))
