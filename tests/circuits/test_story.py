"""The network as a dated story: how it was at a past moment after it has changed, and how it will be."""

import datetime
from pathlib import Path

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from circuits import asleft, checks, importer, packagefile, positions, snapshot, story, whatif
from circuits.asleft import CannotBeError
from circuits.changes import Changes, compare
from circuits.core.trace import trace
from circuits.models import Device, Line, NetworkRevision, Premises, RowVersion
from circuits.proving import prove
from circuits.tables import rows_by_id
from tests.circuits.conftest import DEMO
from tests.circuits.packages import changed, edited, without
from tests.core.test_asleft import AT_11_20

pytestmark = pytest.mark.usefixtures("demo_network")


def lay_in(*named: tuple[str, dict[str, str]]) -> NetworkRevision:
    """A change as it was built, proved before."""
    rows = rows_by_id()
    changes = asleft.made(rows, named)
    assert prove(rows, changes, snapshot.compiled()).faults == ()
    with transaction.atomic():
        snapshot.hold(alone=True)
        return story.lay_in(changes, note="as built", by="Ana Duarte")


def dated(revision: NetworkRevision, at: datetime.datetime) -> None:
    """As if it had come into use then."""
    NetworkRevision.objects.filter(pk=revision.pk).update(imported_at=at)


def load(folder: Path) -> NetworkRevision:
    outcome = importer.import_network(checked=checks.check(packagefile.read(folder)))
    assert outcome.revision, outcome
    return outcome.revision


def rows_of(name: str, revision: int) -> list[dict[str, object]]:
    return sorted(story.rows_at(name, revision), key=lambda row: str(next(iter(row.values()))))


def test_every_table_is_given_back_as_it_was_after_two_changes() -> None:
    first = snapshot.revision()
    before = {name: rows_of(name, first) for name in rows_by_id()}
    now = {
        name: sorted(found.values(), key=lambda row: str(next(iter(row.values()))))
        for name, found in rows_by_id().items()
    }
    assert before == now
    second = lay_in(*AT_11_20).pk
    between = {name: rows_of(name, second) for name in before}
    lay_in(
        ("normal_position", {"device": "N-15", "position": "open"}),
        ("change_link", {"device": "C-208", "link": "65K"}),
        ("move_transformer", {"transformer": "T-219", "phases": "C"}),
    )
    assert {name: rows_of(name, first) for name in before} == before
    assert {name: rows_of(name, second) for name in before} == between
    assert before != between


def test_numbers_come_back_as_they_were_written() -> None:
    first = snapshot.revision()
    lay_in(*AT_11_20)
    (line,) = [row for row in story.rows_at("lines", first) if row["line_id"] == "L-214-215"]
    assert str(line["length_m"]) == "42.1"


def test_a_row_left_out_and_taken_in_again_was_not_there_in_between(tmp_path: Path) -> None:
    first = snapshot.revision()
    second = load(
        edited(tmp_path, premises=without(premises_id="1144"), contacts=without(premises_id="1144"))
    ).pk
    third = load(DEMO).pk
    there = {
        number: any(row["premises_id"] == "1144" for row in story.rows_at("premises", number))
        for number in (first, second, third)
    }
    assert there == {first: True, second: False, third: True}


def test_an_import_of_new_rows_keeps_no_versions(tmp_path: Path) -> None:
    """Nor one that only leaves rows out: a retired row says itself until when it was there."""
    assert not RowVersion.objects.exists()
    gone = without(premises_id="1144")
    load(edited(tmp_path, premises=gone, contacts=gone))
    assert not RowVersion.objects.exists()
    assert set(Premises.ever.values_list("added_in", flat=True)) == {snapshot.revision() - 1}


def test_a_version_is_never_changed() -> None:
    lay_in(*AT_11_20)
    with pytest.raises(DatabaseError), transaction.atomic():
        RowVersion.objects.update(until=1)


class TestThePast:
    def test_who_was_out_then_after_the_network_has_changed_twice(self) -> None:
        """C-208 opened at 10:12 while T-217 still hung on phase B, and N-15 was not yet set."""
        now = timezone.now()
        dated(NetworkRevision.objects.get(), now - datetime.timedelta(days=30))
        at_10_12 = now - datetime.timedelta(days=20)
        for device, phases in (("C-221", "B"), ("C-208", "B")):
            positions.record(
                device_id=device, phases=phases, position="open", said_by="Sal Moreno", how="radio",
                ordered_at=None, done_at=at_10_12, reported_at=at_10_12,
            )  # fmt: skip
        dated(lay_in(*AT_11_20), now - datetime.timedelta(days=10))
        dated(lay_in(("change_link", {"device": "C-221", "link": "25K"})), now - datetime.timedelta(days=5))
        then = snapshot.at(at_10_12)
        out = trace(then, positions.open_phases(at=at_10_12, network=then.network)).not_energized()
        served = {
            then.network.transformer[one.transformer].id for one in then.network.premises if one.id in out
        }
        assert served == {"T-212", "T-217", "T-218", "T-219"}
        today = trace(snapshot.compiled(), positions.open_phases()).not_energized()
        assert {one.transformer for one in snapshot.compiled().network.premises if one.id in today} == {
            "T-212", "T-218", "T-219",
        }  # fmt: skip

    def test_the_network_of_a_moment(self) -> None:
        now = timezone.now()
        first = NetworkRevision.objects.get()
        dated(first, now - datetime.timedelta(days=30))
        dated(lay_in(*AT_11_20), now - datetime.timedelta(days=10))
        assert "N-15" not in snapshot.at(now - datetime.timedelta(days=20)).network.device
        assert snapshot.at(now - datetime.timedelta(days=9)) is snapshot.compiled()
        # Before the first network nothing is known: it stands for what was there.
        assert snapshot.at(now - datetime.timedelta(days=99)).network.revision == first.pk

    def test_what_if_asks_the_network_of_that_time(self) -> None:
        now = timezone.now()
        dated(NetworkRevision.objects.get(), now - datetime.timedelta(days=30))
        dated(lay_in(*AT_11_20), now - datetime.timedelta(days=10))
        with pytest.raises(whatif.CannotSayError, match="no device N-15 on the network of that time"):
            whatif.ask(device="N-15", operation="close", at=now - datetime.timedelta(days=20))
        (loop,) = whatif.ask(device="N-15", operation="close").found.made.loops
        assert set(loop.devices) == {"N-15", "C-208", "C-221", "J-207"}


class TestWhatIsPlanned:
    def test_it_is_laid_over_the_network_in_use(self) -> None:
        assert snapshot.planned(AT_11_20).network.device["N-15"].closed == ""
        assert snapshot.planned(AT_11_20) is snapshot.planned(AT_11_20)
        assert not Device.ever.filter(pk="N-15").exists()

    def test_what_can_be_no_more_says_so(self) -> None:
        lay_in(*AT_11_20)
        with pytest.raises(CannotBeError, match="N-15-1 is among the nodes of the network already"):
            snapshot.planned(AT_11_20)


def test_a_span_removed_is_retired_and_can_be_strung_again() -> None:
    lay_in(("set_switch", {"line": "L-214-215", "device": "N-15"}))
    lay_in(("remove_device", {"device": "N-15"}), ("remove_span", {"line": "L-214-215-N-15"}),
           ("remove_span", {"line": "L-214-215"}))  # fmt: skip
    assert Line.ever.get(pk="L-214-215").retired_in
    lay_in(("add_span", {"line": "L-214-215", "from_node": "P-214", "to_node": "P-215", "phases": "ABC",
                         "conductor": "1/0 ACSR", "length_m": "42.1"}))  # fmt: skip
    assert Line.objects.get(pk="L-214-215").to_node_id == "P-215"


def test_an_import_that_was_overtaken_changes_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A change as built comes into use while an import is still at its rows: nobody waits for the import."""

    def overtaken(rows: importer.Rows) -> Changes:
        found = compare(rows)
        lay_in(("change_link", {"device": "C-221", "link": "25K"}))
        return found

    monkeypatch.setattr(importer, "compare", overtaken)
    package = edited(tmp_path, devices=changed("C-208", link="65K"))
    outcome = importer.import_network(checked=checks.check(packagefile.read(package)))
    assert outcome.newer
    assert Device.objects.get(pk="C-208").link == "40K"
