"""Scenarios of a day that goes otherwise: given, when, then. The numbers are those of the list that this
board was designed by; what each asks for is said here.
"""

from django.utils import timezone

from clearances import facts, flags
from clearances.models import Clearance, Interruption, Job, LogEntry, SwitchingOrder
from clearances.services import calling_off, on_the_line, switching
from clearances.services.verb import Outcome
from notifications.models import Notice
from tests.cast import Cast, done

from .beside import stands
from .looking import look
from .plays import Tap, called_off
from .said import codes, texts


def call_off(cast: Cast, clearance: Clearance) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    who = cast.who(cast.dana)
    return calling_off.call_off_job(who, clearance=clearance.pk, version=version, why="thunderstorm")


def remark(cast: Cast, clearance: Clearance, words: str) -> Outcome:
    who, now = cast.who(cast.dana), timezone.now()
    return on_the_line.remark(who, clearance=clearance.pk, words=words, done_at=now, look=False)


class TestS07CalledOffForWeather:
    """The job is called off in the morning."""

    def test_before_any_step_nothing_is_left_of_it(self, cast: Cast) -> None:
        clearance = cast.job("told")
        bo = cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-210")
        cast.choose(bo)  # the same points, in the same hours
        assert "point_shared" in {one.flag.code for one in flags.current()}

        clearance = called_off(cast, clearance)
        assert (clearance.state, clearance.job.state) == ("withdrawn", Job.State.CANCELLED)
        cancelled = Notice.objects.filter(fact=f"clearance:{clearance.pk}:cancelled")
        assert cancelled.values("about").distinct().count() == clearance.affected.count() == 62
        words = LogEntry.objects.latest("number").words
        assert "A person calls the life-support premises: 22 Quarry Lane." in words
        assert not facts.live_tags().filter(clearance=clearance).exists()
        assert SwitchingOrder.objects.get(pk=clearance.pk).state == "withdrawn"
        # Nothing is reserved any more: neither the points nor the crew.
        codes_now = {one.flag.code for one in flags.current()}
        assert not codes_now & {"point_shared", "limits_overlap", "crew_twice", "holder_twice"}

    def test_nobody_told_nobody_to_call(self, tap: Tap) -> None:
        called_off(tap, tap.job("checked"))
        assert "life-support" not in LogEntry.objects.latest("number").words

    def test_with_a_step_out_it_is_refused_and_with_one_done_it_is_restored(self, tap: Tap) -> None:
        clearance = tap.job("told")
        (step,) = tap.steps(clearance, "isolate")
        tap.give_step(clearance, step)
        assert texts(call_off(tap, clearance)) == ["Step 1 (C-233) is given and not yet reported."]
        tap.report_step(step)
        entry = done(call_off(tap, clearance)).entry
        assert "1 device is to be restored." in entry.words
        assert Interruption.objects.filter(on_at=None).exists()
        job = Clearance.objects.get(pk=clearance.pk).job
        assert job.state == Job.State.ACTIVE  # it is not over before everything is back
        tap.restore(Clearance.objects.get(pk=clearance.pk))
        assert not Interruption.objects.filter(on_at=None).exists()
        assert not facts.live_tags().exists()
        job.refresh_from_db()
        assert job.state == Job.State.CANCELLED

    def test_once_it_is_given_its_holder_releases_it(self, tap: Tap) -> None:
        clearance = tap.job("given")
        assert codes(call_off(tap, clearance)) == ["clearance_out"]


class TestS40AndS58ATestCloseWhileAClearanceIsOut:
    """Ana's crew is on the tap behind C-233; the breaker of feeder 12 has locked out, and the desk thinks of
    a test close."""

    def test_her_points_stay_untouched_and_whom_one_wrong_report_would_hit_is_called_first(
        self, tap: Tap
    ) -> None:
        clearance = tap.job("tested")
        stands(tap, "B-12", "open")
        breaker = "/desk/devices/B-12/?operation=close&phases=A&phases=B&phases=C"
        (said,) = look(tap.dana, breaker).context["question"]["hits"]
        assert said == (
            f"Ana Duarte, 555-0117: nothing but C-233 would stand between (clearance {clearance.pk}, recall "
            "time 20 min). Call first, and enter the answer as a remark."
        )
        words = "Ana Duarte, called: all clear of it, C-233 in sight, barrel out"
        entry = done(remark(tap, clearance, words)).entry
        assert words in entry.words

        close = next(step for step in tap.steps(clearance, "restore") if step.operation == "close")
        version = Clearance.objects.get(pk=clearance.pk).version
        refused = switching.give_step(
            tap.who(tap.dana), step=close.pk, version=version, given_to="Sal Moreno", repeated_back=True
        )
        assert {"not_released", "tag_at_point"} <= set(codes(refused))

    def test_planned_and_unplanned_stay_apart(self, tap: Tap) -> None:
        """Customer service tells the two apart in its first sentence."""
        clearance = tap.job("working")
        stands(tap, "B-12", "open")
        planned = Interruption.objects.filter(clearance=clearance, on_at=None)[0].premises_id
        other = Interruption.objects.exclude(trouble=None).filter(on_at=None)[0].premises_id
        assert "planned work" in look(tap.mira, f"/service/?premises={planned}").context["answer"]["headline"]
        assert (
            "planned work" not in look(tap.mira, f"/service/?premises={other}").context["answer"]["headline"]
        )
