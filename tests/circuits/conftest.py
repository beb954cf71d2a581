"""The demo network in the database, and a short way to report a position on the day of the example."""

import datetime
from pathlib import Path

import pytest

import circuits
from circuits import checks, importer, packagefile, positions
from circuits.models import PositionReport

DEMO = Path(circuits.__file__).parent / "demo"
DAY = datetime.date(2026, 5, 14)


@pytest.fixture
def demo_network(db: None) -> None:
    importer.import_network(checked=checks.check(packagefile.read(DEMO)))


def at(clock: str) -> datetime.datetime:
    """A time of the example's day."""
    return datetime.datetime.combine(DAY, datetime.time.fromisoformat(clock), datetime.UTC)


def report(device_id: str, phases: str, position: str, clock: str) -> list[PositionReport]:
    return positions.record(
        device_id=device_id,
        phases=phases,
        position=position,
        said_by="Sal Moreno",
        how="radio",
        ordered_at=None,
        done_at=at(clock),
        reported_at=at(clock),
    )
