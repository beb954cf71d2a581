"""The demo network, compiled once."""

from pathlib import Path

import pytest

import circuits
from circuits import checks, packagefile
from circuits.assemble import to_network
from circuits.core.network import Compiled, compile_network

DEMO = Path(circuits.__file__).parent / "demo"


@pytest.fixture(scope="session")
def demo() -> Compiled:
    checked = checks.check(packagefile.read(DEMO))
    assert (checked.faults, checked.warnings) == ([], [])
    rows = {name: [row.values for row in found] for name, found in checked.rows.items()}
    return compile_network(to_network(rows))
