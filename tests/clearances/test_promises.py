"""By when power is back where several clearances keep it away, and who is told when one of them slides."""

import datetime
from typing import Any, ClassVar

from django.utils import timezone

from clearances import promises
from clearances.models import ChangeSet, Clearance
from clearances.notices import still_true
from clearances.services import asking, changes
from notifications.models import Notice
from tests.cast import Cast, done

from .plays import Tap, called_off

HOUR = datetime.timedelta(hours=1)


class ChapelRow(Cast):
    """The tap behind C-280, which hangs on nothing else."""

    points: ClassVar[tuple[str, ...]] = ("C-280",)

    def asked(self, **named: Any) -> Clearance:
        return super().asked(**{"from_pole": "P-291", "to_pole": "P-293"} | named)


class Other(Tap):
    """Bo's work on the same tap of Weir Close."""

    def asked(self, **named: object) -> Clearance:
        return super().asked(**{"holder": self.bo, "from_pole": "P-252"} | named)


def both(tap: Tap, *, start: datetime.timedelta) -> tuple[Clearance, Clearance]:
    """Two clearances with the cutout C-233 in common, the second an hour (`start`) after the first; its
    customers are told as well.
    """
    one = tap.job("told")
    other = Other.present()
    return one, other.bring(other.asked(start=one.window_start + start), "told")


def hours(clearance: Clearance) -> set[datetime.datetime | None]:
    return set(clearance.affected.values_list("back_by", flat=True))


def test_alone_everybody_is_back_by_the_promised_end(tap: Tap) -> None:
    one = tap.job("told")
    assert hours(one) == {one.promised_end}


def test_s09_two_clearances_share_one_cutout(tap: Tap) -> None:
    """Given both hold the cutout, the customers of the first are back when the second is: they are told so as
    soon as its order is checked, and once more when it slides; the life-support premises is asked again."""
    one, other = both(tap, start=HOUR)
    assert other.promised_end == one.promised_end + HOUR
    assert hours(one) == hours(other) == {other.promised_end}
    moved = Notice.objects.filter(fact=f"clearance:{one.pk}:planned:2")
    assert moved.count() == one.affected.count()
    assert f"Back by:  {timezone.localtime(other.promised_end):%A}" in moved[0].body
    assert f"{timezone.localtime(other.promised_end):%H:%M}" in moved[0].body.split("Back by:")[1]

    assert still_true(moved[0].fact, moved[0].about) == ""
    earlier = f"clearance:{one.pk}:planned:1"
    assert still_true(earlier, moved[0].about) == "The customers were told something newer."
    later = other.promised_end + 2 * HOUR
    entry = done(
        asking.move_promised_end(tap.who(tap.bo), clearance=other.pk, promised_end=later, why="rock")
    ).entry
    n = one.affected.count()
    assert entry.words.endswith(
        f"Told another hour: {n} customers of clearance {one.pk}, {n} customers of clearance {other.pk}."
    )
    assert hours(one) == hours(other) == {later}


def test_a_life_support_premises_is_asked_again_when_another_clearance_makes_it_later(cast: Cast) -> None:
    one = cast.job("told")
    assert not one.affected.filter(care="life_support", answered_at=None).exists()
    cast.bring(cast.asked(holder=cast.bo, start=one.window_start + HOUR), "told")
    assert one.affected.filter(care="life_support", answered_at=None).count() == 1


def test_who_is_not_concerned_is_not_told_again(tap: Tap) -> None:
    """The first slides within the hours of the second: nobody's hour moves."""
    one, other = both(tap, start=2 * HOUR)
    before = Notice.objects.count()
    done(
        asking.move_promised_end(
            tap.who(tap.ana), clearance=one.pk, promised_end=one.promised_end + HOUR, why="late start"
        )
    )
    assert Notice.objects.count() == before
    assert hours(one) == {other.promised_end}


def test_on_another_day_neither_has_to_do_with_the_other(tap: Tap) -> None:
    one, other = both(tap, start=datetime.timedelta(days=1))
    assert (hours(one), hours(other)) == ({one.promised_end}, {other.promised_end})


def test_when_the_other_is_called_off_power_is_back_earlier(tap: Tap) -> None:
    one, other = both(tap, start=HOUR)
    called_off(tap, Clearance.objects.get(pk=other.pk))
    assert hours(one) == {one.promised_end}


def test_an_order_that_is_checked_later_moves_the_hour_at_once(tap: Tap) -> None:
    """Found by the random days: the first's customers had an hour at which the second keeps them out, until
    the second's own were told."""
    one = tap.job("told")
    other = Other.present()
    other.bring(other.asked(start=one.window_start + HOUR), "order written")
    assert hours(one) == {one.promised_end}
    two = other.bring(Clearance.objects.latest("pk"), "checked", since="order written")
    assert hours(one) == {two.promised_end}
    words = two.entries.latest("number").words
    assert words.endswith(f"Told another hour: {one.affected.count()} customers of clearance {one.pk}.")


def test_a_change_that_hangs_customers_behind_another_s_points_moves_their_hour(cast: Cast) -> None:
    """T-292 is to move from Chapel Row, where Bo works, into the section that Ana keeps away for longer: told
    when it is planned, and told back when it is not done."""
    ana = cast.job("told")
    row = ChapelRow.present()
    bo = row.asked(holder=cast.bo, start=ana.window_start - HOUR)
    bo = row.bring(bo, "told")
    assert hours(bo) == {bo.promised_end}
    given = {"transformer": "T-292", "phases": "B", "at_node": "P-216"}
    at: dict[str, Any] = {"clearance": bo.pk, "change": "move_transformer", "given": given}
    entry = done(changes.plan_change(cast.who(cast.dana), **at)).entry
    moved = bo.affected.filter(premises__transformer="T-292")
    assert entry.words.endswith(f"Told another hour: {moved.count()} customers of clearance {bo.pk}.")
    assert set(moved.values_list("back_by", flat=True)) == {ana.promised_end}
    change = ChangeSet.objects.get()
    done(changes.mark_not_done(cast.who(cast.bo), change_set=change.pk, why="no truck"))
    assert hours(bo) == {bo.promised_end}
    done(changes.plan_change(cast.who(cast.dana), **at))
    built = ChangeSet.objects.get(state="planned")
    done(changes.confirm_change(cast.who(cast.bo), change_set=built.pk, done_at=timezone.now()))
    assert set(moved.values_list("back_by", flat=True)) == {ana.promised_end}


def test_who_has_no_normal_supply_waits_for_the_last(tap: Tap) -> None:
    one, other = both(tap, start=HOUR)
    assert promises.back_by(one, ["nobody"]) == {"nobody": one.promised_end}
    assert promises.back_by(one, []) == {}
    assert other.pk
