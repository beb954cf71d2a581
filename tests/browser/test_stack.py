"""The stack under the browser tests is whole."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect


def test_a_stranger_is_asked_to_sign_in_under_the_content_policy(seat: Callable[..., Page]) -> None:
    page = seat()
    answer = page.goto("/mail/")
    assert answer is not None
    assert page.url.endswith("/sign-in?next=/mail/")
    assert answer.headers["content-security-policy"].startswith("default-src 'self'")
    assert answer.headers["x-frame-options"] == "DENY"
    expect(page.get_by_role("heading").first).to_be_visible()


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)])
def test_the_sign_in_page_has_no_fault_of_access(
    seat: Callable[..., Page], faults: Callable[[Page], list[str]], size: tuple[int, int]
) -> None:
    page = seat(size)
    page.goto("/sign-in")
    assert faults(page) == []
