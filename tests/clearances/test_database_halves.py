"""What a rule refuses and the database refuses as well, typed by hand as the board's own role: the turn of
steps, phases and positions under a step, the age of an answer, and who else is where a field clearance
begins."""

import datetime
from typing import Any, ClassVar

import pytest
from django.conf import settings

from circuits.models import Device
from clearances.models import Clearance
from clearances.services import switching
from tests.cast import Cast, done

from .beside import RECLOSER, Elm, a_do_not_operate, a_hold, answer, stands
from .plays import Tap
from .said import codes
from .sql import GIVE_STEP, HANG, REPORT, TAG_OFF, refused, typed

START = (
    "INSERT INTO clearances_fieldclearance (device_id, phases, holder_id, crew, work, nodes, inside_phases,"
    " state, started_at) VALUES (%s, %s, %s, 'line 1', '', %s, 'B', 'on', now())"
)
ASK = (
    "INSERT INTO clearances_hotlinehold (device_id, holder_id, crew, work, place_words, nodes, phases, state,"
    " asked_at, accepted_words) VALUES (%s, %s, '', '', '', '{P-278}', 'ABC', 'asked', now(), '')"
)


SAY = (
    "INSERT INTO clearances_holdreport (hold_id, said, words, done_at, entered_at, said_by, irregular)"
    " VALUES (%s, %s, '', now() - %s, now() - %s, 'Bo', '')"
)
MINUTE, SECOND = datetime.timedelta(minutes=1), datetime.timedelta(seconds=1)


@pytest.fixture
def elm(cast: Cast) -> Elm:
    return Elm.present()


class Main(Cast):
    """Work on the main of feeder 14 before the recloser."""

    points: ClassVar[tuple[str, ...]] = ("B-14", RECLOSER)

    def asked(self, **named: Any) -> Clearance:
        return super().asked(**{"from_pole": "P-271", "to_pole": "P-273"} | named)


class TestAStep:
    def test_each_in_its_turn(self, cast: Cast) -> None:
        """(m)(2)(i): all of it in the order given [V]."""
        clearance = cast.job("told")
        first, second, *_ = cast.steps(clearance, "isolate")
        said = refused("step_in_its_turn", GIVE_STEP, cast.dana.pk, second.pk)
        assert said == f"Step 1 of order {clearance.pk} (C-208 ABC) comes before step 2."
        cast.give_step(clearance, first)
        cast.report_step(first)
        typed(GIVE_STEP, cast.dana.pk, second.pk)

    def test_what_is_left_out_is_nobody_s_turn(self, tap: Tap) -> None:
        clearance = tap.job("released")
        untag, close = tap.steps(clearance, "restore")
        typed(TAG_OFF, f"{clearance.pk}-1")
        refused("step_in_its_turn", GIVE_STEP, tap.dana.pk, close.pk)
        typed("UPDATE clearances_step SET state = 'left_out' WHERE id = %s", untag.pk)
        typed(GIVE_STEP, tap.dana.pk, close.pk)

    def test_for_phases_that_its_device_has(self, cast: Cast) -> None:
        """The tap has moved since the order was written. Its tag comes off all the same."""
        clearance = cast.job("released")
        close = next(one for one in cast.steps(clearance, "restore") if one.operation == "close")
        untag = cast.steps(clearance, "restore")[0]
        assert untag.device_id == close.device_id
        Device.objects.filter(pk=close.device_id).update(phases="AB")
        typed(GIVE_STEP, cast.dana.pk, untag.pk)
        cast.report_step(untag)
        said = refused("step_for_phases_there", GIVE_STEP, cast.dana.pk, close.pk)
        place = close.place
        assert said == f"Step {place} of order {clearance.pk} is for {close.device_id} ABC, which has AB now."

    def test_nothing_is_checked_open_that_does_not_stand_open(self, elm: Elm) -> None:
        """The tie N-7 stands open normally, and no report says otherwise; then one does."""
        clearance = elm.job("told")
        opening, check = elm.steps(clearance, "isolate")
        assert (check.device_id, check.operation) == ("N-7", "check_open")
        elm.give_step(clearance, opening)
        elm.report_step(opening)
        typed(REPORT, "N-7", "B", "closed", "")
        said = refused("check_open_of_what_stands_open", GIVE_STEP, elm.dana.pk, check.pk)
        assert said == (
            f"N-7 B does not stand open on the board, so step {check.place} of order {clearance.pk} does not "
            "follow."
        )
        typed(REPORT, "N-7", "B", "open", "")
        typed(GIVE_STEP, elm.dana.pk, check.pk)


class TestAHold:
    def test_an_answer_of_a_while_ago_opens_nothing(self, elm: Elm) -> None:
        """As long as by the rule."""
        clearance = elm.job("told")
        hold = a_hold(elm)
        opening = elm.steps(clearance, "isolate")[0]
        typed(SAY, hold.pk, "stays", *[settings.HOLD_ANSWER_MINUTES * MINUTE] * 2)
        said = refused("hold_answer_of_now", GIVE_STEP, elm.dana.pk, opening.pk)
        assert said == f"The answer of the holder of hot-line hold {hold.number} for R-31 is too old."
        typed(SAY, hold.pk, "stands_down", *[settings.HOLD_ANSWER_MINUTES * MINUTE - 9 * SECOND] * 2)
        typed(GIVE_STEP, elm.dana.pk, opening.pk)

    def test_a_yes_of_a_while_ago_closes_nothing(self, elm: Elm) -> None:
        """Its device was opened forty minutes ago, the yes came twenty minutes ago."""
        clearance = elm.job("told")
        opened = REPORT.replace("clock_timestamp()", "CAST(now() - interval '40 minutes' AS timestamptz)")
        for point in clearance.points.all():
            for phase in point.phases:
                typed(opened, point.device_id, phase, "open", "locked open")
            typed(HANG, point.phases, clearance.pk, point.device_id)
        hold = a_hold(elm)
        clearance = elm.bring(Clearance.objects.get(pk=clearance.pk), "accepted", since="isolated")
        clearance = elm.bring(clearance, "released", since="people and grounds off")
        *untag, close = elm.steps(clearance, "restore")
        for one in untag:
            elm.give_step(clearance, one)
            elm.report_step(one)
        assert (close.device_id, close.operation) == (RECLOSER, "close")
        typed(SAY, hold.pk, "yes", 20 * MINUTE, 20 * MINUTE)
        refused("hold_answer_of_now", GIVE_STEP, elm.dana.pk, close.pk)
        answer(elm, hold, "yes")
        typed(GIVE_STEP, elm.dana.pk, close.pk)

    def test_there_is_something_to_block(self, cast: Cast) -> None:
        said = refused("hold_blocks_something", ASK, "C-280", cast.bo.pk)
        assert said == "C-280 closes neither by itself nor from afar."
        typed(ASK, RECLOSER, cast.bo.pk)

    def test_an_opening_farther_up_is_refused_by_the_rule_until_he_has_answered(self, cast: Cast) -> None:
        """The database can't trace it: the breaker of his feeder, a point of another's clearance."""
        main = Main.present()
        clearance = main.job("told")
        hold = a_hold(cast)
        opening = main.steps(clearance, "isolate")[0]
        assert opening.device_id == "B-14"
        version = Clearance.objects.get(pk=clearance.pk).version
        give: dict[str, Any] = {
            "step": opening.pk,
            "version": version,
            "given_to": "Sal Moreno",
            "repeated_back": True,
        }
        assert codes(switching.give_step(cast.who(cast.dana), **give)) == ["hold_not_asked"]
        answer(cast, hold, "stands_down")
        done(switching.give_step(cast.who(cast.dana), **give))


class TestAFieldClearance:
    def test_its_holder_is_qualified(self, tap: Tap) -> None:
        stands(tap, "F-252", "open", "B")
        refused("field_clearance_holder_qualified", START, "F-252", "B", tap.tom.pk, ["P-252t"])
        refused("field_clearance_holder_qualified", START, "F-252", "B", tap.sal.pk, ["P-252t"])
        typed(START, "F-252", "B", tap.ana.pk, ["P-252t"])

    def test_nothing_else_stands_at_its_device(self, tap: Tap) -> None:
        a_do_not_operate(tap, device="C-233", phases="B")
        said = refused("field_clearance_sole_control", START, "C-233", "B", tap.ana.pk, ["P-236b"])
        assert said.startswith("C-233 is not under sole control: do-not-operate DNO-")
        hold = a_hold(tap)
        stands(tap, RECLOSER, "open")
        said = refused("field_clearance_sole_control", START, RECLOSER, "ABC", tap.ana.pk, ["P-274b"])
        assert said == f"R-31 is not under sole control: hot-line hold {hold.number}."

    def test_nor_a_clearance_whose_tag_was_reported_off(self, tap: Tap) -> None:
        job = tap.job("accepted")
        typed(TAG_OFF, f"{job.pk}-1")
        said = refused("field_clearance_sole_control", START, "C-233", "B", tap.bo.pk, ["P-236b"])
        assert said == f"C-233 is not under sole control: clearance {job.pk}."
        typed(HANG, "B", job.pk, "C-233")

    def test_nobody_works_energized_and_no_ground_set_is_on_beyond_it(self, tap: Tap) -> None:
        hold = a_hold(tap)
        stands(tap, "F-279", "open", "A")
        said = refused("field_clearance_alone", START, "F-279", "A", tap.ana.pk, ["P-279"])
        assert said == f"Others work beyond F-279: hot-line hold {hold.number}."
        job = tap.job("asked")
        tap.ground(Clearance.objects.get(pk=job.pk))
        stands(tap, "F-213", "open", "C")
        said = refused("field_clearance_alone", START, "F-213", "C", tap.ana.pk, ["P-214"])
        assert said == f"Others work beyond F-213: ground set G3 of clearance {job.pk}."
