"""What the plain values say of themselves."""

import pytest

from circuits.core.values import Source


@pytest.mark.parametrize(
    ("kind", "called"),
    [
        ("station", "station S-1"),
        ("inverter", "inverter S-1"),
        ("generator", "generator S-1"),
        ("standby", "standby generator S-1"),
        ("mobile", "mobile generator S-1"),
    ],
)
def test_a_source_is_called_by_its_kind(kind: str, called: str) -> None:
    assert Source("S-1", "n", kind, "B").called == called
