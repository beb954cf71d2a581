"""The demo and its people, as the tests of clearances have them, and browsers and programs to ask with."""

from collections.abc import Callable

import pytest
from django.test import Client

from clearances.models import Person
from tests.access.stage import stage
from tests.clearances.conftest import _no_hints, cast, committed_cast

__all__ = ["_no_hints", "browser", "cast", "committed_cast", "stage"]

Browser = Callable[[Person | None], Client]


@pytest.fixture
def browser() -> Browser:
    """A browser in which somebody (or nobody) is signed in. Errors are answered, not raised, as they would
    be for a person."""

    def open_one(person: Person | None) -> Client:
        client = Client(raise_request_exception=False)
        if person is not None:
            client.force_login(person)
        return client

    return open_one
