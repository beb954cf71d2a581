"""What the clearances tell the network's pages and imports."""

import shutil
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from circuits import positions, snapshot
from circuits.core.trace import trace
from circuits.models import NetworkRevision
from clearances import network
from tests.cast import Cast
from tests.clearances.conftest import NETWORK


def test_the_drawing_bears_tags_and_the_clearances_that_are_out(cast: Cast) -> None:
    one = cast.job("working")
    marks = network.marks()
    assert marks.tags["C-208"] == [f"{one.pk}-1"]
    assert [band.words for band in marks.bands] == [f"{one.pk} · Duarte · 2 on"]
    assert {phases for _, phases in marks.bands[0].limits} == {"ABC"}


def test_a_request_is_no_band(cast: Cast) -> None:
    cast.job("checked")
    assert network.marks().bands == []


def test_the_drawing_around_the_limits_says_the_same_in_sentences(cast: Cast) -> None:
    one = cast.job("isolated")
    state = trace(snapshot.compiled(), positions.open_phases())
    drawn = network.drawing([one], snapshot.compiled(), state, width=960)
    assert drawn is not None
    assert any("C-208" in sentence and f"{one.pk}-1" in sentence for sentence in drawn.sentences)
    assert network.drawing([], snapshot.compiled(), state, width=960) is None


@pytest.fixture
def package(tmp_path: Path) -> Path:
    return Path(shutil.copytree(NETWORK, tmp_path / "package"))


def test_an_import_may_not_take_away_what_lies_under_a_clearance(
    cast: Cast, package: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = cast.job("grounded")
    file = package / "devices.csv"
    file.write_text(file.read_text().replace("\r\nC-208,", "\r\nC-209,").replace("\nC-208,", "\nC-209,"))
    before = NetworkRevision.objects.count()
    with pytest.raises(CommandError):
        call_command("import_network", str(package))
    said = "".join(capsys.readouterr())
    assert f"It leaves out device C-208, which is a point of clearance {one.pk} (Duarte)." in said
    assert f"It leaves out device C-208, which carries tag {one.pk}-1." in said
    assert NetworkRevision.objects.count() == before


def test_a_moved_pole_under_a_ground_set_and_a_node_inside_the_limits_are_named(cast: Cast) -> None:
    one = cast.job("grounded")
    node = one.limits.exclude(node=None).values_list("node", flat=True)[0]
    reasons = network.may_import({"nodes": {node}}, {"structures": {"P-214", "P-215"}})
    assert f"It leaves out node {node}, which is inside the limits of clearance {one.pk} (Duarte)." in reasons
    assert "It changes pole P-214, where ground set G3 is on." in reasons
    assert network.may_import({"nodes": {"elsewhere"}}, {"structures": {"P-201"}}) == []


def test_after_the_release_and_the_tags_nothing_stands_against_it(cast: Cast) -> None:
    cast.job("restored")
    assert network.may_import({"devices": {"C-208", "C-221"}}, {"structures": {"P-214"}}) == []
