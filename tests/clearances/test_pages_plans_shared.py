"""Plans that share a point with another work clearance: the page of plans and what others have."""

import datetime

import pytest

from clearances.models import Clearance
from clearances.others import in_the_way
from clearances.services import calling_off, planning
from clearances.templatetags.board import clock
from tests.cast import Cast, done

from .looking import signed_in, text_of

HOUR = datetime.timedelta(hours=1)


def page(cast: Cast, clearance: Clearance) -> str:
    answer = signed_in(cast.dana).get(f"/desk/clearances/{clearance.pk}/plans/")
    assert answer.status_code == 200
    return text_of(answer.content.decode())


def pointed(cast: Cast, clearance: Clearance, *devices: str) -> Clearance:
    """The same with these points chosen."""
    who = cast.who(cast.dana)
    done(
        planning.choose_points(who, clearance=clearance.pk, version=clearance.version, devices=list(devices))
    )
    return Clearance.objects.get(pk=clearance.pk)


@pytest.fixture
def c42(cast: Cast) -> Clearance:
    """Clearance 42 of the example: the tap span P-207 to P-208, to be opened at both ends. Nothing is
    ordered."""
    span = cast.asked(holder=cast.bo, from_pole="P-207", to_pole="P-208", work="Replace the tap span")
    return pointed(cast, span, "J-207", "C-208")


def hours(row: Clearance) -> str:
    return f"{clock(row.window_start)} to {clock(row.promised_end)}"


def test_the_example_s_two_clearances_share_c_208(cast: Cast, c42: Clearance) -> None:
    """Appendix of the trade: 41's points are C-208, shared with 42, and C-221; 62 customers are out."""
    text = page(cast, cast.asked())
    first, *_ = text.partition("Plan 2")
    assert "62 customers out" in first
    for point in ("Open C-208 (phases A, B, C) and tag it", "Open C-221 (phases A, B, C) and tag it"):
        assert point in first
    assert (
        f"Shared with others C-208 is a point of work clearance {c42.pk} (Bo Lindqvist), {hours(c42)}, as "
        "well: two tags, and it goes back only when both are released."
    ) in first
    assert "Not operated, since others have them" not in text
    assert "what others operate in those hours is not in it" in text


def test_choosing_a_shared_point_and_writing_its_order(cast: Cast, c42: Clearance) -> None:
    """Both orders open C-208: whoever comes second finds it open, and hangs a tag of their own."""
    c41, c42 = cast.bring(cast.asked(), "told"), cast.bring(c42, "told", "points chosen")
    cast.isolate(c41)
    cast.isolate(c42)
    tags = Clearance.objects.filter(tags__device="C-208", tags__off_at=None)
    assert set(tags) == {c41, c42}


def test_what_is_only_asked_for_in_those_hours_is_shared_and_else_no_matter(
    cast: Cast, c42: Clearance
) -> None:
    window = (c42.window_start, c42.promised_end)
    found = in_the_way(window)
    assert found.kept == {}
    assert found.shared.keys() == {"J-207", "C-208"}
    assert in_the_way(window, c42.pk).shared == {}
    assert in_the_way((c42.promised_end, c42.promised_end + HOUR)).shared == {}
    assert in_the_way(None).shared == {}


def test_once_something_is_ordered_its_points_are_kept(cast: Cast, c42: Clearance) -> None:
    window = (c42.window_start, c42.promised_end)
    c42 = cast.bring(c42, "told", "points chosen")
    assert in_the_way(window).kept == {}
    cast.give_step(c42, cast.steps(c42, "isolate")[0])
    found = in_the_way(window)
    named = f"a point of work clearance {c42.pk} (Bo Lindqvist)"
    assert found.kept == {"J-207": named, "C-208": named}
    assert found.shared.keys() == {"J-207", "C-208"}


def test_what_hangs_is_kept_and_a_plan_that_tags_it_too_says_whose_it_is(cast: Cast, c42: Clearance) -> None:
    c42 = cast.bring(c42, "isolated", "points chosen")
    text = page(cast, cast.asked())
    assert "Check C-208 open (phases A, B, C) and tag it, no operation needed" in text
    assert f"C-208 is a point of work clearance {c42.pk} (Bo Lindqvist), {hours(c42)}, as well" in text
    assert f"C-208: tag {c42.pk}-2 of work clearance {c42.pk}, a point of work clearance {c42.pk}" in text
    early = (c42.promised_end + HOUR, c42.promised_end + 2 * HOUR)
    assert in_the_way(early).shared.keys() == {"J-207", "C-208"}


def test_where_only_one_of_them_wants_it_open(cast: Cast, c42: Clearance) -> None:
    """The other's hours begin or end within ours: said, and the board's own rules hold the device."""
    start, end = c42.window_start, c42.promised_end
    begins, ends = (f"Work clearance {c42.pk} {one} within these hours" for one in ("begins", "ends"))
    assert begins not in (same := in_the_way((start, end)).shared["C-208"])
    assert ends not in same
    earlier = in_the_way((start - HOUR, end)).shared["C-208"]
    assert earlier.endswith(f"{begins}, and finds C-208 open.")
    longer = in_the_way((start, end + HOUR)).shared["C-208"]
    assert longer.endswith(f"{ends}: C-208 is not closed for it before this one is released.")


def test_a_point_of_several_others_has_a_tag_for_each(cast: Cast, c42: Clearance) -> None:
    third = pointed(cast, cast.asked(from_pole="P-209", to_pole="P-210"), "C-208")
    said = in_the_way((c42.window_start, c42.promised_end)).shared["C-208"]
    assert f", and of work clearance {third.pk} (Ana Duarte), {hours(third)}, as well: 3 tags" in said
    assert said.endswith("only when all are released.")


def test_one_that_is_called_off_shares_nothing(cast: Cast, c42: Clearance) -> None:
    window = (c42.window_start, c42.promised_end)
    who, version = cast.who(cast.dana), c42.version
    done(calling_off.call_off_job(who, clearance=c42.pk, version=version, why="rain"))
    assert in_the_way(window).shared == {}
