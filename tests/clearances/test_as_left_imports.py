"""A network package that would undo what the field has confirmed, and the network as it will be."""

import datetime
from pathlib import Path

import pytest
from django.utils import timezone

from circuits import checks, importer, packagefile, snapshot
from circuits.asleft import CannotBeError
from circuits.models import Device, Line
from clearances import asleft
from clearances.models import ChangeSet, Clearance
from clearances.services import changes
from tests.cast import Cast, done
from tests.circuits.conftest import DEMO
from tests.circuits.packages import changed, edited

from .leaving import built, plan, planned
from .looking import signed_in, text_of
from .said import codes


def load(folder: Path) -> importer.Outcome:
    return importer.import_network(checked=checks.check(packagefile.read(folder)))


@pytest.fixture
def row(cast: Cast) -> ChangeSet:
    """The example's change set, built; its job is over, so that nothing else stands against an import."""
    row = planned(cast, cast.job("restored"))
    built(cast, row)
    row.refresh_from_db()
    return row


class TestAnImport:
    def test_the_old_package_is_refused_until_the_change_is_surveyed(
        self, cast: Cast, row: ChangeSet
    ) -> None:
        outcome = load(DEMO)
        assert outcome.revision is None
        (said,) = outcome.refusals
        assert said.startswith(f"It undoes change set {row.pk} (S-217 normally open; move transformer T-217 ")
        assert "which Ana Duarte confirmed as built: devices S-217, transformers T-217, nodes " in said
        assert said.endswith("Mark the change set surveyed or withdrawn first.")
        done(changes.survey_change(cast.who(cast.jon), change_set=row.pk, why="seen on the line"))
        assert load(DEMO).revision
        assert not Device.objects.filter(pk="N-15").exists()

    def test_withdrawn_it_may_be_undone(self, cast: Cast, row: ChangeSet) -> None:
        done(changes.withdraw_change(cast.who(cast.jon), change_set=row.pk, why="the map is right"))
        assert load(DEMO).revision
        assert Line.objects.get(pk="L-214-215").to_node_id == "P-215"
        again = changes.survey_change(cast.who(cast.jon), change_set=row.pk, why="once more")
        assert codes(again) == ["change_not_standing"]

    def test_a_package_that_has_it_and_more_is_taken(
        self, cast: Cast, row: ChangeSet, tmp_path: Path
    ) -> None:
        """The network in use, exported, with another link in a cutout that has moved."""
        packagefile.write(tmp_path, importer.export_files())
        assert load(tmp_path).revision is None, "it is this very package"
        devices = tmp_path / "devices.csv"
        written = devices.read_bytes()
        rest = b"K,false,false,false,cutout of T-217"
        devices.write_bytes(written.replace(b"3" + rest, b"6" + rest))
        outcome = load(tmp_path)
        assert outcome.refusals == ()
        assert Device.objects.get(pk="F-217").link == "6K"

    def test_a_package_that_never_heard_of_it_changes_elsewhere_in_vain(
        self, cast: Cast, row: ChangeSet, tmp_path: Path
    ) -> None:
        outcome = load(edited(tmp_path, devices=changed("C-233", link="25K")))
        assert len(outcome.refusals) == 1

    def test_only_the_engineer_says_so(self, cast: Cast, row: ChangeSet) -> None:
        for verb in (changes.survey_change, changes.withdraw_change):
            assert codes(verb(cast.who(cast.dana), change_set=row.pk, why="so")) == ["role"]


class TestTheNetworkAsItWillBe:
    def on(self, cast: Cast, days: float) -> Clearance:
        start = timezone.now() + datetime.timedelta(days=days)
        return cast.asked(holder=cast.bo, start=start)

    def test_thursday_after_tuesday_s_job(self, cast: Cast) -> None:
        tuesday = self.on(cast, 1)
        planned(cast, tuesday)
        thursday = timezone.now() + datetime.timedelta(days=3)
        assert "N-15" in asleft.network_on(thursday).network.device
        assert asleft.network_on(thursday, but=tuesday.job_id) is snapshot.compiled()
        assert asleft.network_on(timezone.now()) is snapshot.compiled()

    def test_two_jobs_that_can_t_both_be(self, cast: Cast) -> None:
        for days in (1, 2):
            done(plan(cast, self.on(cast, days), "set_switch", line="L-214-215", device="N-15"))
        with pytest.raises(CannotBeError):
            asleft.network_on(timezone.now() + datetime.timedelta(days=3))

    def test_the_later_clearance_is_told_of_the_earlier_job(self, cast: Cast) -> None:
        """Row 3 of the practice: "2 unfinished jobs will alter this section before the date"."""
        row = planned(cast, self.on(cast, 1))
        later = self.on(cast, 3)
        said = text_of(signed_in(cast.dana).get(f"/desk/clearances/{later.pk}/").content.decode())
        assert f"Change set {row.pk} of clearance {row.clearance_id}" in said
        assert "is planned before this work begins" in said


def test_the_pages_tell_it(cast: Cast) -> None:
    row = planned(cast, cast.job("working"))
    built(cast, row, differently="N-15 hangs one span further")
    desk = signed_in(cast.jon)
    page = text_of(desk.get("/desk/changes/").content.decode())
    assert "Built, and not in the network yet: 1" in page
    assert "Built otherwise: N-15 hangs one span further" in page
    paper = text_of(desk.get(f"/desk/clearances/{row.clearance_id}/sheet/").content.decode())
    assert "set gang switch N-15 in span L-214-215, normally open yes Ana Duarte" in paper
    sheet = text_of(signed_in(cast.ana).get(f"/field/clearances/{row.clearance_id}/").content.decode())
    assert "confirmed as built, not surveyed" in sheet
