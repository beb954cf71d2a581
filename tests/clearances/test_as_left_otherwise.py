"""A change that was built otherwise than planned; and what the database holds of any, typed by hand."""

from django.utils import timezone

from circuits import snapshot
from circuits.models import Device
from clearances import flags
from clearances.models import ChangeSet, Step
from clearances.services import changes
from tests.cast import Cast, done

from .leaving import built, give, plan, planned
from .said import codes
from .sql import GIVE_STEP, breaks, no_right, refused


class TestBuiltOtherwise:
    def test_part_of_it_is_laid_in_and_both_are_kept(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        entry = built(cast, row, not_built=["1", "2"])
        row.refresh_from_db()
        assert entry.irregular == ""
        assert (len(row.planned), [one["change"] for one in row.built]) == (3, ["set_switch"])
        assert Device.objects.get(pk="F-217").phases == "B"

    def test_what_the_network_can_not_be_is_stored_and_keeps_the_restore_half_shut(self, cast: Cast) -> None:
        """The tap moved, the tie left normally closed: the foreman is believed, the network waits."""
        clearance = cast.job("released")
        row, revision = planned(cast, clearance), snapshot.revision()
        entry = built(cast, row, not_built=["1", "3"])
        row.refresh_from_db()
        assert (row.state, row.revision_id, snapshot.revision()) == ("confirmed", None, revision)
        assert "a tie of like phases" in entry.irregular
        (flag,) = [one.flag for one in flags.current() if one.flag.code == "change_unsettled"]
        assert flag.level == "now"
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        assert codes(give(cast, first)) == ["change_not_confirmed"]
        refused("restore_as_left", GIVE_STEP, cast.dana.pk, first.pk)
        settle = changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="tried again")
        assert codes(settle) == ["change_not_in_network"]
        # The picture is corrected: a further change of the job says what stands there.
        done(plan(cast, clearance, "normal_position", device="S-217", position="open"))
        done(plan(cast, clearance, "move_transformer", transformer="T-217", phases="C"))
        further = ChangeSet.objects.get(state="planned")
        built(cast, further)
        done(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="as change set after it"))
        row.refresh_from_db()
        further.refresh_from_db()
        assert (row.unsettled, row.revision_id) == ("", further.revision_id)
        done(give(cast, first))

    def test_in_other_words_than_the_board_has(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        entry = built(cast, row, differently="N-15 hangs one span further")
        assert entry.irregular == "Built otherwise: N-15 hangs one span further"
        first = cast.steps(clearance, Step.Half.RESTORE)[0]
        assert codes(give(cast, first)) == ["change_not_confirmed"]
        done(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="same section, looked at"))
        done(give(cast, first))
        assert codes(changes.settle_change(cast.who(cast.dana), change_set=row.pk, why="again")) == [
            "change_settled"
        ]

    def test_nothing_at_all_is_marked_not_done(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        outcome = changes.confirm_change(
            cast.who(cast.ana), change_set=row.pk, done_at=timezone.now(), not_built=["1", "2", "3"]
        )
        assert codes(outcome) == ["nothing_built"]

    def test_it_can_be_laid_in_later_when_what_was_in_the_way_is_gone(self, cast: Cast) -> None:
        clearance = cast.job("released")
        row = planned(cast, clearance)
        entry = built(cast, row, not_built=["1", "3"])
        assert entry.irregular
        Device.objects.filter(pk="S-217").update(normal_position="open")
        done(
            changes.settle_change(cast.who(cast.jon), change_set=row.pk, why="the tie is open on record now")
        )
        assert Device.objects.get(pk="F-217").phases == "C"


class TestTheDatabase:
    def test_what_was_planned_and_said_stands(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        built(cast, row)
        for change in (
            "planned = '[]'",
            "built = '[]'",
            "said_by = 'Bo'",
            "rows = '[]'",
            "revision_id = NULL",
        ):
            refused("change_stands", f"UPDATE clearances_changeset SET {change} WHERE id = {row.pk}")
        refused("history_is_kept", f"DELETE FROM clearances_changeset WHERE id = {row.pk}")
        no_right("TRUNCATE clearances_changeset")

    def test_a_change_is_said_by_somebody_and_in_the_network_or_told_why_not(self, cast: Cast) -> None:
        row = planned(cast, cast.job("working"))
        sets = "UPDATE clearances_changeset SET {} WHERE id = %s".format
        breaks("change_said_by_someone", sets("state = 'not_done'"), row.pk)
        breaks("change_built_when_confirmed", sets("unsettled = 'the tap'"), row.pk)
        said = "said_by = 'Ana', said_at = now(), done_at = now()"
        breaks("change_in_network_or_told_why", sets(f"state = 'confirmed', {said}"), row.pk)
        columns = "clearance_id, state, planned, planned_by_id, built, rows, said_by, unsettled, ended_why"
        again = (
            f"INSERT INTO clearances_changeset ({columns}) SELECT {columns} FROM clearances_changeset"
            " WHERE id = %s"
        )
        breaks("change_planned_once", again, row.pk)
        built(cast, row)
        breaks("change_ended_by_someone", sets("state = 'surveyed'"), row.pk)
