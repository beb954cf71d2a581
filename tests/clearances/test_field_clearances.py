"""A field clearance: one crew changes a transformer, its cutout on the same pole in plain sight (practice;
29 CFR 1910.269(m)(2)(ii) and (iii), seen). No desk order, no tags; the desk gets a start and a finish line.
"""

import datetime

from django.utils import timezone

from circuits import positions, snapshot
from clearances import at_device, facts, flags
from clearances.leaning import of_entry
from clearances.models import Clearance, FieldClearance, Interruption, LogEntry, Step, Tag, Trouble
from clearances.services import giving, switching
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .beside import (
    RECLOSER,
    a_do_not_operate,
    a_field_clearance,
    a_hold,
    end_field_clearance,
    stands,
    start_field_clearance,
)
from .plays import Tap
from .said import codes, leans_on, texts
from .sql import GIVE, GIVE_STEP, breaks, refused, typed

START = (
    "INSERT INTO clearances_fieldclearance (device_id, phases, holder_id, crew, work, nodes, inside_phases,"
    " state, started_at) VALUES (%s, %s, %s, 'line 1', '', %s, 'B', 'on', now())"
)


def give(cast: Cast, job: Clearance, step: Step) -> Outcome:
    version = Clearance.objects.values_list("version", flat=True).get(pk=job.pk)
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


class TestS51:
    def test_the_desk_gets_a_start_and_a_finish_line_and_the_customers_out(self, cast: Cast) -> None:
        stands(cast, "F-210", "open", "A")
        assert Interruption.objects.filter(on_at=None).count() == 8  # those of T-210
        entry = done(start_field_clearance(cast)).entry
        field = FieldClearance.objects.get()
        at = f"{timezone.localtime(field.started_at):%H:%M}"
        assert entry.words == (
            f"Ana Duarte: field clearance {field.number} on, F-210 A (P-210, Quarry Lane) open, in sight and "
            f"under sole control, no operator order: Change transformer T-210, {at}."
        )
        assert (field.nodes, field.inside_phases) == (["P-210t", "T-210s"], "A")
        assert not Tag.objects.exists()
        # Whoever is out behind it is out for this work, and not for a reason that nobody knows.
        assert Trouble.objects.get(device="F-210").cause == "planned work of ours close by"
        assert field.number in " ".join(of_entry(entry))
        words = done(end_field_clearance(cast, field)).entry.words
        assert words.startswith(
            f"Ana Duarte: field clearance {field.number} at F-210 ended, everybody and every ground set off"
        )

    def test_its_open_cutout_has_a_reason_on_the_board(self, cast: Cast) -> None:
        stands(cast, "F-210", "open", "A")
        assert "position_without_reason" in {one.flag.code for one in flags.current()}
        done(start_field_clearance(cast))
        assert "position_without_reason" not in {one.flag.code for one in flags.current()}

    def test_it_needs_one_crew_in_sight_of_its_own_open_disconnect(self, cast: Cast) -> None:
        assert codes(start_field_clearance(cast)) == ["not_open"]
        stands(cast, "F-210", "open", "A")
        assert codes(start_field_clearance(cast, cast.tom)) == ["holder_not_qualified"]
        assert codes(start_field_clearance(cast, in_sight=False)) == ["not_in_sight"]
        assert codes(start_field_clearance(cast, one_crew=False)) == ["more_than_one_crew"]
        assert codes(start_field_clearance(cast, device="F-999")) == ["unknown_device"]

    def test_not_with_a_second_source_inside(self, cast: Cast) -> None:
        """T-217 is tied to T-219 over the secondaries; T-212 has an inverter; a bank couples its phases."""
        for device, phases, way in (
            ("F-217", "B", "S-217"), ("F-212", "B", "inverter INV-212"), ("F-218", "A", "bank T-218"),
        ):  # fmt: skip
            stands(cast, device, "open", phases)
            said = start_field_clearance(cast, device=device, phases=phases)
            assert set(codes(said)) == {"second_source"}
            assert any(way in text for text in texts(said)), texts(said)
            assert leans_on(said) == {"29 CFR 1910.269(m)(3)(ii) (seen)"}

    def test_not_with_a_second_crew_inside(self, tap: Tap) -> None:
        """A clearance out on the tap beyond C-233; a field clearance at F-252, which hangs on it, shares no
        place with it; one at the tap's cutout does."""
        job = tap.job("working")
        stands(tap, "F-252", "open", "B")
        done(start_field_clearance(tap, device="F-252", phases="B"))
        said = start_field_clearance(tap, tap.bo, device="C-233", phases="B")
        assert set(codes(said)) == {"not_sole_control", "others_inside"}
        assert any(f"clearance {job.pk} (Ana Duarte, 555-0117)" in text for text in texts(said))
        assert any("field clearance FC-" in text for text in texts(said))

    def test_not_over_people_under_a_hold(self, cast: Cast) -> None:
        hold = a_hold(cast)
        stands(cast, "N-7", "open")
        stands(cast, RECLOSER, "open")
        said = start_field_clearance(cast, device=RECLOSER, phases="ABC")
        assert {"not_sole_control", "others_inside"} <= set(codes(said))
        assert any(hold.number in text for text in texts(said))

    def test_not_where_somebody_else_keeps_the_device_open(self, cast: Cast) -> None:
        a_do_not_operate(cast)
        said = start_field_clearance(cast, device="F-275", phases="ABC")
        assert codes(said) == ["not_sole_control"]

    def test_only_its_holder_ends_it(self, cast: Cast) -> None:
        field = a_field_clearance(cast)
        assert codes(end_field_clearance(cast, field, cast.bo)) == ["not_the_holder"]
        assert codes(end_field_clearance(cast, field, cast.dana)) == ["not_the_holder"]
        done(end_field_clearance(cast, field))
        assert codes(end_field_clearance(cast, field)) == ["ended_before"]


class TestWhileItIsOn:
    def test_no_order_operates_its_device(self, tap: Tap) -> None:
        """The tap's cutout is a point of a checked order when a crew starts behind it."""
        job = tap.job("told")
        step = tap.steps(job, "isolate")[0]
        field = a_field_clearance(tap, device="C-233", phases="B")
        assert "under_field_clearance" in codes(give(tap, job, step))
        typed(
            "UPDATE clearances_switchingorder SET state = 'checked', paused_why = '' WHERE clearance_id = %s",
            job.pk,
        )
        said = refused("no_order_at_field_clearance", GIVE_STEP, tap.dana.pk, step.pk)
        assert said == f"C-233 is under field clearance {field.number}: no order operates it."
        done(end_field_clearance(tap, field))
        typed(GIVE_STEP, tap.dana.pk, step.pk)

    def test_a_close_elsewhere_that_would_energize_it_names_its_holder(self, cast: Cast) -> None:
        """F-210 is closed behind the crew's back while the lateral is out: closing that would hit them."""
        field = a_field_clearance(cast)
        for device in ("C-208", "C-221"):
            stands(cast, device, "open")
        stands(cast, "F-210", "closed", "A")
        hits = at_device.hits_of_closing("C-208", "ABC")
        assert [(hit.what, hit.under, hit.reach) for hit in hits] == [
            ("what is beyond F-210", f"field clearance {field.number}", "Ana Duarte, 555-0117")
        ]
        entry = LogEntry.objects.filter(verb="report_position").latest("number")
        assert f"works beyond it under field clearance {field.number}, no operator order." in entry.irregular
        assert "F-210" not in positions.open_phases()

    def test_a_field_clearance_inside_the_limits_is_a_refusal_by_rule_and_database(self, tap: Tap) -> None:
        job = tap.job("isolated")
        place = sorted({node for node, _ in facts.limits_of(job, snapshot.compiled())})
        stands(tap, "F-252", "open", "B")
        typed(START, "F-252", "B", tap.bo.pk, place[:1])
        field = FieldClearance.objects.get()
        said = giving.give_clearance(tap.who(tap.dana), clearance=job.pk, version=job.version)
        (text,) = texts(said)
        assert text == (
            f"Inside the limits of clearance {job.pk} Bo Lindqvist, 555-0142, works under field clearance "
            f"{field.number}."
        )
        assert refused("given_with_no_field_clearance", GIVE, tap.dana.pk, job.pk).endswith(
            f"{field.number}."
        )
        done(end_field_clearance(tap, field))
        typed(GIVE, tap.dana.pk, job.pk)


class TestTheDatabase:
    def test_it_begins_on_a_device_that_is_open_and_nobody_else_s(self, tap: Tap) -> None:
        refused("field_clearance_on_open", START, "F-252", "B", tap.ana.pk, ["P-252t"])
        job = tap.job("accepted")
        refused("field_clearance_sole_control", START, "C-233", "B", tap.ana.pk, ["P-236b"])
        stands(tap, "F-252", "open", "B")
        said = refused("field_clearance_alone", START, "F-252", "B", tap.bo.pk, ["P-252", "P-252t"])
        assert said == f"Others work beyond F-252: clearance {job.pk}."
        typed(START, "F-252", "B", tap.bo.pk, ["P-252t", "T-252s"])
        stands(tap, "F-253", "open", "B")
        refused("field_clearance_alone", START, "F-253", "B", tap.bo.pk, ["T-252s"])

    def test_once_a_device_and_ended_by_its_holder(self, cast: Cast) -> None:
        field = a_field_clearance(cast)
        said = (
            "UPDATE clearances_fieldclearance SET state = 'ended', ended_at = now(), ended_by_id = %s"
            " WHERE id = %s"
        )
        breaks("field_clearance_ended_by_holder", said, cast.bo.pk, field.pk)
        breaks("one_field_clearance_a_device", START, "F-210", "A", cast.bo.pk, ["P-210u"])
        refused(
            "protection_stands", "UPDATE clearances_fieldclearance SET crew = 'x' WHERE id = %s", field.pk
        )
        refused("history_is_kept", "DELETE FROM clearances_fieldclearance WHERE id = %s", field.pk)
        typed(said, cast.ana.pk, field.pk)


def test_a_start_may_be_told_later_than_it_was(cast: Cast) -> None:
    earlier = timezone.now() - datetime.timedelta(minutes=20)
    assert a_field_clearance(cast, done_at=earlier).started_at == earlier
