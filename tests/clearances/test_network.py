"""What the clearances tell the network's pages and imports."""

import html
import shutil
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from circuits import checks, importer, packagefile, positions, snapshot
from circuits.checks import Checked
from circuits.core.trace import trace
from circuits.models import NetworkRevision
from circuits.upward import Ids, Proposal, Verdict
from clearances import flags, log, network
from clearances.beside import Beside
from clearances.models import LogEntry
from clearances.services import orders
from clearances.services.verb import Done
from tests.cast import Cast
from tests.clearances.plays import Tap
from tests.stages import NETWORK


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
    drawn = network.drawing([one], snapshot.compiled(), state, beside=Beside.read(), width=960)
    assert drawn is not None
    assert any("C-208" in sentence and f"{one.pk}-1" in sentence for sentence in drawn.sentences)
    assert network.drawing([], snapshot.compiled(), state, beside=Beside.read(), width=960) is None


@pytest.fixture
def package(tmp_path: Path) -> Path:
    return Path(shutil.copytree(NETWORK, tmp_path / "package"))


def asked(removed: Ids, changed: Ids) -> Verdict:
    """What is said of an import that leaves the network as it is but for these."""
    return network.may_import(Proposal(removed, changed, snapshot.compiled()))


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
    reasons = asked(removed={"nodes": {node}}, changed={"structures": {"P-214", "P-215"}}).against
    assert f"It leaves out node {node}, which is inside the limits of clearance {one.pk} (Duarte)." in reasons
    assert "It changes pole P-214, where ground set G3 is on." in reasons
    assert asked(removed={"nodes": {"elsewhere"}}, changed={"structures": {"P-201"}}) == Verdict()


def bridged(package: Path) -> Checked:
    """The demo network with a span from feeder 14 into the limits of the demo's job, past all of its points.

    feeder 12 --C-208-- P-213 --- P-215 --- P-218 --C-221-- feeder 12
                                    |
                          P-286, feeder 14
    """
    lines = package / "lines.csv"
    lines.write_bytes(lines.read_bytes() + b"L-new,14,P-286,P-215,ABC,1/0 ACSR,42.1,overhead,continuous,\r\n")
    checked = checks.check(packagefile.read(package))
    assert not checked.faults
    return checked


FED = "phases A, B, C are{} fed on the new network"
# From both ends of feeder 14: over its own recloser, and round over the tie N-7, which may be closed.
WAYS = (
    "feeder 12 > B-12 > P-201 > P-287 > N-7 > P-286 > P-215 (phases A, B, C).",
    "feeder 14 > B-14 > P-271 > P-274 > R-31 > P-275 > P-215 (phases A, B, C).",
)


@pytest.mark.parametrize("stage", ["given", "accepted", "working"])
def test_an_import_may_not_feed_a_clearance_that_is_out(cast: Cast, package: Path, stage: str) -> None:
    one = cast.job(stage)
    before = snapshot.revision()
    checked = bridged(package)
    points = "with its points open and tagged as reported"
    expected = {f"Under clearance {one.pk} (Duarte) {FED.format('')}, {points}: {way}" for way in WAYS}
    assert set(importer.what_it_would_do(checked=checked).refusals) == expected
    assert set(importer.import_network(checked=checked, by=cast.jon).refusals) == expected
    assert snapshot.revision() == before
    assert "L-new" not in snapshot.compiled().network.line


@pytest.mark.parametrize(("stage", "state"), [("order written", "draft"), ("checked", "checked")])
def test_an_order_that_no_longer_holds_is_told_and_logged(
    cast: Cast, package: Path, stage: str, state: str
) -> None:
    one = cast.job(stage)
    checked = bridged(package)
    every = f"With every point of order {one.pk} (Duarte, {state}) open and tagged"
    expected = {f"{every}, {FED.format(' still')}: {way}" for way in WAYS}
    assert set(importer.what_it_would_do(checked=checked).consequences) == expected
    outcome = importer.import_network(checked=checked, by=cast.jon, note="the new span of May")
    assert outcome.revision
    assert set(outcome.consequences) == expected
    entry = LogEntry.objects.latest("number")
    assert entry.by == cast.jon
    said = f"Jon Castellan imports network revision {outcome.revision.pk}: the new span of May."
    assert entry.words == " ".join([said, *outcome.consequences])
    assert list(log.faults()) == []


def test_the_desk_is_told_until_the_order_is_written_again(cast: Cast, package: Path) -> None:
    one = cast.job("checked")
    checked = bridged(package)
    assert {raised.flag.code for raised in flags.current()} == set()
    importer.import_network(checked=checked)
    raised = [raised.flag for raised in flags.current() if raised.flag.code == "plan_leaves_source"]
    assert {flag.text.rpartition("now: ")[2] for flag in raised} == set(WAYS)
    signed_in = Client()
    signed_in.force_login(cast.dana)
    said = html.unescape(signed_in.get("/desk/").content.decode())
    assert f"With every point of order {one.pk} (Ana Duarte) open and tagged" in said
    take_back = orders.take_check_back(
        cast.who(cast.ines), clearance=one.pk, version=one.version, why="the network has changed"
    )
    assert isinstance(take_back, Done)
    assert [raised for raised in flags.current() if raised.flag.code == "plan_leaves_source"]
    assert "/do/choose_points/" in signed_in.get("/desk/").content.decode()
    one.refresh_from_db()
    cast.write(one)
    assert not [raised for raised in flags.current() if raised.flag.code == "plan_leaves_source"]


def test_points_that_are_only_chosen_are_told_and_an_order_that_still_holds_is_not(
    cast: Cast, package: Path
) -> None:
    one = cast.job("points chosen")
    tap = Tap.present()
    tap.bring(tap.asked(), "checked")
    told = importer.what_it_would_do(checked=bridged(package)).consequences
    every = f"With every point of plan {one.pk} (Duarte, no order yet) open and tagged"
    assert set(told) == {f"{every}, {FED.format(' still')}: {way}" for way in WAYS}


def test_a_point_that_the_package_leaves_out_blocks_nothing(cast: Cast, package: Path) -> None:
    one = cast.job("given")
    devices = package / "devices.csv"
    devices.write_bytes(devices.read_bytes().replace(b"\r\nC-208,", b"\r\nC-209,"))
    said = importer.what_it_would_do(checked=checks.check(packagefile.read(package))).refusals
    assert any(sentence.startswith("It leaves out device C-208, which is a point of") for sentence in said)
    assert any(
        sentence.startswith(f"Under clearance {one.pk} (Duarte) phases A, B, C are fed") for sentence in said
    )


def test_after_the_release_and_the_tags_nothing_stands_against_it(cast: Cast) -> None:
    cast.job("restored")
    assert asked(removed={"devices": {"C-208", "C-221"}}, changed={"structures": {"P-214"}}) == Verdict()
