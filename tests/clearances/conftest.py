"""The demo network and its people, loaded once for each file of tests, and given back after it."""

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.db import transaction
from pytest_django import DjangoDbBlocker

from clearances import demo
from notifications import wakeup
from tests.cast import Cast

from .plays import Tap

NETWORK = "circuits/demo"


def _load() -> None:
    call_command("import_network", NETWORK, verbosity=0)
    demo.load()


@pytest.fixture(autouse=True)
def _no_hints(monkeypatch: pytest.MonkeyPatch) -> None:
    """A promised notice wakes no worker here: there is none."""
    monkeypatch.setattr(wakeup, "hint", lambda: None)


@pytest.fixture(scope="module")
def _utility(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The demo in a transaction that lasts as long as the file's tests, each of which is undone within it."""
    with django_db_blocker.unblock(), transaction.atomic():
        _load()
        yield
        transaction.set_rollback(True)


@pytest.fixture
def cast(_utility: None, db: None) -> Cast:
    """The demo network and people; whatever the test changes is undone after it."""
    return Cast.present()


@pytest.fixture
def tap(cast: Cast) -> Tap:
    """The same people at the smaller job."""
    return Tap.present()


@pytest.fixture
def committed_cast(transactional_db: None) -> Cast:
    """The same, committed, for tests of what two connections do to each other."""
    _load()
    return Cast.present()
