"""What is served to a browser from a wheel, and what a browser may run on which page."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth import get_user_model
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.finders import get_finder
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from pytest_django import Settings

from config.front import MapLibre
from config.security import CONTENT_SECURITY_POLICY
from tests.conftest import STATIC_FILES


def test_the_map_s_library_is_found_in_its_wheel_and_nothing_else_of_it() -> None:
    for name in MapLibre.FILES:
        assert str(finders.find(name)).endswith(f"maplibre/srcjs/{name}")
        assert finders.find(name, find_all=True) == [finders.find(name)]
    assert finders.find("pywidget.js") is None
    assert sorted(name for name, _ in get_finder("config.front.MapLibre").list(None)) == sorted(
        MapLibre.FILES
    )


@pytest.mark.parametrize("name", MapLibre.FILES)
def test_it_is_served(client: Client, settings: Settings, name: str) -> None:
    settings.MIDDLEWARE = [STATIC_FILES]
    answer = client.head(f"/static/{name}")
    assert answer.status_code == 200
    assert int(answer.headers["Content-Length"]) == Path(str(finders.find(name))).stat().st_size


def addresses(patterns: list[URLPattern | URLResolver], before: str = "/") -> Iterator[str]:
    for one in patterns:
        address = before + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from addresses(one.url_patterns, address)
        elif address != "/live/":
            yield address.replace("<int:", "1<").split("<")[0] + ("1/" if "<" in address else "")


@pytest.mark.django_db
def test_only_the_map_s_page_may_make_itself_a_worker(client: Client) -> None:
    client.force_login(get_user_model().objects.create_user("dana", roles=["operator"]))
    policies = {
        at: client.get(at).headers["Content-Security-Policy"] for at in addresses(get_resolver().url_patterns)
    }
    assert policies.pop("/desk/map/") == f"{CONTENT_SECURITY_POLICY}; worker-src blob:"
    assert len(policies) > 50
    assert set(policies.values()) == {CONTENT_SECURITY_POLICY}
    assert "worker-src" not in CONTENT_SECURITY_POLICY
    assert "blob:" not in CONTENT_SECURITY_POLICY
