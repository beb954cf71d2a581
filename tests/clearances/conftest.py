"""The demo network and its people, given back after each test as they were before it."""

from collections.abc import Iterator

import pytest

from notifications import wakeup
from tests.cast import Cast
from tests.stages import Stages, load

from .plays import Tap


@pytest.fixture(autouse=True)
def _no_hints(monkeypatch: pytest.MonkeyPatch) -> None:
    """A promised notice wakes no worker here: there is none."""
    monkeypatch.setattr(wakeup, "hint", lambda: None)


@pytest.fixture
def cast(_stages: Stages, db: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[Cast]:
    """The demo network and people; whatever the test changes is undone after it."""
    monkeypatch.setattr(Cast, "stages", _stages)
    _stages.enter("the demo")
    yield Cast.present()
    _stages.leave()


@pytest.fixture
def tap(cast: Cast) -> Tap:
    """The same people at the smaller job."""
    return Tap.present()


@pytest.fixture
def committed_cast(transactional_db: None) -> Cast:
    """The same, committed, for tests of what two connections do to each other."""
    load()
    return Cast.present()
