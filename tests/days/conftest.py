"""Random days stand on the demo, each rolled back when it is over."""

import os

import pytest
from hypothesis import HealthCheck, settings

from tests.cast import Cast
from tests.stages import Stages

# How many days, of how many acts each: a sample with every test run, more with `make soak`.
DAYS = settings(
    max_examples=int(os.environ.get("RANDOM_DAYS", "8")),
    stateful_step_count=30,
    deadline=None,
    print_blob=True,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture
def stages(_stages: Stages, db: None, monkeypatch: pytest.MonkeyPatch) -> Stages:
    monkeypatch.setattr(Cast, "stages", _stages)
    return _stages
