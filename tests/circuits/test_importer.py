"""A package goes in whole or not at all, comes out as it went in, and takes nothing from history."""

import io
import zipfile
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection
from pytest_django import Settings

from circuits import positions, snapshot
from circuits.core.trace import Answer, trace
from circuits.models import (
    Contact,
    Device,
    Line,
    NetworkRevision,
    PositionReport,
    Premises,
    Transformer,
)
from circuits.package import TABLES
from circuits.tables import MODELS
from circuits.upward import Proposal, Verdict
from tests.circuits.conftest import DEMO, report
from tests.circuits.packages import changed, edited, idle, load, refused, without

pytestmark = pytest.mark.django_db


def test_the_models_have_a_field_for_every_column() -> None:
    for table in TABLES:
        model = MODELS.get(table.name, Contact)
        fields = {field.attname for field in model._meta.concrete_fields}
        wanted = {table.field(column) for column in table.columns}
        assert fields - wanted <= {"retired_in_id", "added_in", "id"}
        assert wanted <= fields


class TestFirstImport:
    def test_it_says_what_it_did_and_the_network_is_energized(self) -> None:
        said = load(DEMO)
        revision = NetworkRevision.objects.get()
        assert "premises: 198 rows, 198 new, 0 changed, 0 left out" in said
        assert f"The network in use is now revision {revision.pk}." in said
        compiled = snapshot.compiled()
        assert compiled.network.revision == revision.pk
        state = trace(compiled, positions.open_phases())
        assert {state.answer(node, phase) for node, phase in compiled.points} == {Answer.ENERGIZED}

    def test_the_snapshot_is_compiled_once_a_revision(self, tmp_path: Path) -> None:
        load(DEMO)
        first = snapshot.compiled()
        assert snapshot.compiled() is first
        load(edited(tmp_path, devices=changed("C-208", label="corner of Ferry Street")))
        assert snapshot.compiled() is not first

    def test_without_an_import_the_network_is_empty(self) -> None:
        assert snapshot.compiled().network.revision == 0
        assert snapshot.compiled().points == ()


class TestAgain:
    def test_the_same_package_changes_nothing_and_says_so(self) -> None:
        load(DEMO)
        assert load(DEMO).endswith("The network in use is this very package; nothing was changed.\n")
        assert NetworkRevision.objects.count() == 1

    def test_export_import_export_gives_the_same_bytes(self, tmp_path: Path) -> None:
        load(DEMO)
        call_command("export_network", str(tmp_path / "one"), stdout=io.StringIO())
        assert {path.name: path.read_bytes() for path in DEMO.iterdir()} == {
            path.name: path.read_bytes() for path in (tmp_path / "one").iterdir()
        }
        assert "nothing was changed" in load(tmp_path / "one")

    def test_a_zip_does_as_well_and_so_does_a_zipped_folder(self, tmp_path: Path) -> None:
        with zipfile.ZipFile(tmp_path / "in.zip", "w") as archive:
            for path in DEMO.iterdir():
                archive.write(path, f"our network/{path.name}")
        load(tmp_path / "in.zip")
        for name in ("a.zip", "b.zip"):
            call_command("export_network", str(tmp_path / name), stdout=io.StringIO())
        assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
        assert "nothing was changed" in load(tmp_path / "a.zip")

    def test_only_what_changed_is_touched(self, tmp_path: Path) -> None:
        load(DEMO)
        said = load(edited(tmp_path, lines=changed("L-214-215", length_m="42.10")))
        assert "lines: 62 rows, 0 new, 1 changed, 0 left out" in said
        assert "devices: 38 rows, 0 new, 0 changed, 0 left out" in said
        assert str(Line.objects.get(pk="L-214-215").length_m) == "42.10"

    def test_a_number_comes_back_as_it_was_given(self, tmp_path: Path) -> None:
        load(edited(tmp_path, lines=changed("L-214-215", length_m="042.100")))
        call_command("export_network", str(tmp_path / "out"), stdout=io.StringIO())
        assert ",42.100," in (tmp_path / "out" / "lines.csv").read_text()

    def test_what_is_left_out_is_retired_and_comes_back_by_id(self, tmp_path: Path) -> None:
        load(DEMO)
        without_a_machine = edited(
            tmp_path,
            sources=without(source_id="INV-212"),
            devices=without(device_id="D-212"),
            nodes=without(node_id="INV-212"),
        )
        load(without_a_machine)
        assert not Device.objects.filter(pk="D-212").exists()
        assert Device.ever.get(pk="D-212").retired_in == NetworkRevision.objects.latest("pk")
        assert "INV-212" not in snapshot.compiled().network.source
        load(DEMO)
        assert Device.objects.get(pk="D-212").retired_in is None

    def test_what_comes_back_changed_is_as_it_comes(self, tmp_path: Path) -> None:
        load(DEMO)
        load(edited(tmp_path, lines=without(line_id="L-252-253"), nodes=idle))
        load(edited(tmp_path, lines=changed("L-252-253", length_m="9.50")))
        assert str(Line.objects.get(pk="L-252-253").length_m) == "9.50"

    def test_contacts_are_replaced_and_not_kept(self, tmp_path: Path) -> None:
        load(DEMO)
        kept = Contact.objects.get(premises="1003").pk
        said = load(
            edited(
                tmp_path, contacts=lambda rows: without(premises_id="1001")(changed("1002", rank="3")(rows))
            )
        )
        assert "contacts: 188 rows, 0 new, 1 changed, 1 left out" in said
        assert not Contact.objects.filter(premises="1001").exists()
        assert Contact.objects.get(premises="1002").rank == 3
        assert Contact.objects.get(premises="1003").pk == kept


class TestPositionsCarryOver:
    def test_a_reported_position_stays_with_its_device(self, tmp_path: Path) -> None:
        load(DEMO)
        report("C-208", "AB", "open", "08:41")
        load(edited(tmp_path, devices=changed("C-208", label="corner of Ferry Street")))
        assert positions.open_phases()["C-208"] == "AB"

    def test_a_device_out_of_its_normal_position_may_not_be_left_out(self, tmp_path: Path) -> None:
        load(DEMO)
        report("D-212", "B", "open", "08:46")
        package = edited(
            tmp_path,
            sources=without(source_id="INV-212"),
            devices=without(device_id="D-212"),
            nodes=without(node_id="INV-212"),
        )
        assert refused(package) == [
            (
                "refused: device D-212 is left out of the package, but not in its normal position on "
                "phase B: put it back and report that, or keep it in the package"
            ),
            "1 reasons against this import; nothing was changed.",
        ]
        report("D-212", "B", "closed", "15:00")
        load(package)
        assert PositionReport.objects.filter(device="D-212").count() == 2


def asked(proposal: Proposal) -> Verdict:
    """What stands in for the clearances that may have reasons against an import."""
    assert "D-212" not in proposal.network.network.device
    removed, changed = sorted(proposal.removed["devices"]), sorted(proposal.changed["lines"])
    return Verdict(against=(f"removed {removed}, changed {changed}",))


def test_whoever_is_asked_upward_may_refuse(tmp_path: Path, settings: Settings) -> None:
    load(DEMO)
    settings.NETWORK_MAY_IMPORT = "tests.circuits.test_importer.asked"
    package = edited(
        tmp_path,
        devices=without(device_id="D-212"),
        nodes=without(node_id="INV-212"),
        sources=without(source_id="INV-212"),
        lines=changed("L-214-215", length_m="42.10"),
    )
    assert refused(package)[0] == "refused: removed ['D-212'], changed ['L-214-215']"
    assert Device.objects.filter(pk="D-212").exists()


class TestNormalPositions:
    """A device that nobody has reported about stands where the package says that it normally does."""

    def test_one_that_moves_is_told(self, tmp_path: Path) -> None:
        load(DEMO)
        said = load(edited(tmp_path, devices=changed("D-212", normal_position="open")))
        assert (
            "look at: The normal position of device D-212 becomes open, until now closed; nobody has "
            "reported its phase B, so the board will take it to stand there.\n"
        ) in said

    def test_one_that_was_reported_stays(self, tmp_path: Path) -> None:
        load(DEMO)
        report("D-212", "B", "closed", "08:41")
        assert "look at" not in load(edited(tmp_path, devices=changed("D-212", normal_position="open")))
        assert "D-212" not in positions.open_phases()


class TestTheDatabase:
    """What an import checks, hand-typed SQL may not do either."""

    @pytest.mark.parametrize(
        ("statement", "constraint"),
        [
            ("UPDATE circuits_line SET length_m = 0 WHERE id = 'L-214-215'", "circuits_line_length"),
            ("UPDATE circuits_line SET to_node_id = from_node_id", "circuits_line_ends"),
            ("UPDATE circuits_device SET phases = 'BA' WHERE id = 'C-208'", "circuits_device_phases"),
            ("UPDATE circuits_device SET normal_position = 'ajar'", "circuits_device_normal_position"),
            ("UPDATE circuits_device SET kind = 'knife'", "circuits_device_kind"),
            (
                "UPDATE circuits_premises SET second_transformer_id = transformer_id",
                "circuits_premises_two_feeds",
            ),
            ("UPDATE circuits_premises SET care = 'some'", "circuits_premises_care"),
            ("UPDATE circuits_source SET means_of_disconnection = ''", "circuits_source_means"),
            ("UPDATE circuits_transformer SET kva = -1", "circuits_transformer_kva"),
        ],
    )
    @pytest.mark.usefixtures("demo_network")
    def test_a_row_that_can_not_be(self, statement: str, constraint: str) -> None:
        with pytest.raises(IntegrityError, match=constraint), connection.cursor() as cursor:
            cursor.execute(statement)

    @pytest.mark.usefixtures("demo_network")
    def test_history_keeps_what_it_refers_to(self) -> None:
        assert Premises.objects.get(pk="1140").transformer == Transformer.objects.get(pk="T-213")
        with pytest.raises(IntegrityError), connection.cursor() as cursor:
            cursor.execute(
                "DELETE FROM circuits_transformer WHERE id = 'T-213'; SET CONSTRAINTS ALL IMMEDIATE"
            )
