"""Two at once: one wins, the other is told, and nothing is half done. Each race is run many times over."""

import datetime
import shutil
from pathlib import Path
from typing import Any, ClassVar

from django.utils import timezone

from circuits import checks, importer, packagefile, positions
from clearances import log
from clearances.models import Clearance, Interruption, LogEntry, Step, Tag
from clearances.services import asking, giving, on_the_line, orders, reporting, switching
from clearances.services.verb import Done, Outcome, Refused, Stale
from tests.cast import Cast, done

from .conftest import FEW, ROUNDS, Race


class ChapelRow(Cast):
    """The tap behind C-280, which hangs on nothing else."""

    points: ClassVar[tuple[str, ...]] = ("C-280",)

    def asked(self, **named: Any) -> Clearance:
        limits = {"from_pole": "P-291", "to_pole": "P-293", "phases": "ABC"}
        return super().asked(**{"work": "Replace the tap's conductor"} | limits | named)


def chapel_row(race: Race) -> ChapelRow:
    return ChapelRow(**vars(race.cast))


def now() -> datetime.datetime:
    return timezone.now()


def version(clearance: Clearance) -> int:
    return Clearance.objects.values_list("version", flat=True).get(pk=clearance.pk)


def one_wins(outcomes: list[Outcome]) -> Done:
    """Exactly one is done and was not done before; the other is told why not."""
    winners = [outcome for outcome in outcomes if isinstance(outcome, Done)]
    losers = [outcome for outcome in outcomes if isinstance(outcome, Refused | Stale)]
    assert (len(winners), len(losers)) == (1, 1), outcomes
    (loser,) = losers
    assert loser.refusals if isinstance(loser, Refused) else loser.sentence
    assert not winners[0].repeated
    return winners[0]


def unbroken() -> None:
    assert list(log.faults()) == []


def test_two_operators_give_one_step(race: Race) -> None:
    cast = chapel_row(race)
    clearance = cast.job("told")
    (step,) = cast.steps(clearance, "isolate")
    for _ in range(ROUNDS):
        picture, entries = version(clearance), LogEntry.objects.count()

        def give(by: Any, picture: int = picture) -> Outcome:
            return switching.give_step(
                cast.who(by), step=step.pk, version=picture, given_to="Sal Moreno", repeated_back=True
            )

        winner = one_wins(race.together(lambda: give(cast.dana), lambda: give(cast.ines)))
        step.refresh_from_db()
        assert (step.state, step.given_by) == ("given", winner.entry.by)
        assert LogEntry.objects.count() == entries + 1
        assert version(clearance) == picture + 1
        done(
            switching.call_step_back(
                cast.who(cast.dana), step=step.pk, version=version(clearance), why="once more"
            )
        )
    unbroken()


def test_two_operators_give_two_steps_of_one_order(race: Race) -> None:
    cast = race.cast
    clearance = cast.job("told")
    first, second, *_ = cast.steps(clearance, "isolate")
    for _ in range(ROUNDS):
        picture = version(clearance)

        def give(step: Step, picture: int = picture) -> Outcome:
            return switching.give_step(
                cast.who(cast.dana), step=step.pk, version=picture, given_to="Sal Moreno", repeated_back=True
            )

        one_wins(race.together(lambda: give(first), lambda: give(second)))
        given = Step.objects.filter(order=clearance.pk, state="given")
        assert list(given) == [first]  # the second comes before nothing
        done(
            switching.call_step_back(
                cast.who(cast.dana), step=first.pk, version=version(clearance), why="once more"
            )
        )


def test_the_holder_releases_while_somebody_signs_on(race: Race) -> None:
    cast = chapel_row(race)
    clearance = cast.job("accepted")
    seen = set()
    for _ in range(ROUNDS):
        release, sign_on = race.together(
            lambda: giving.release_clearance(
                cast.who(cast.ana), clearance=clearance.pk, version=None, told_everyone=True, all_off=True
            ),
            lambda: on_the_line.sign_on(
                cast.who(cast.sal), clearance=clearance.pk, name="Sal Moreno", done_at=now()
            ),
        )
        clearance.refresh_from_db()
        assert isinstance(sign_on, Done)  # an observation is never refused
        if isinstance(release, Done):
            assert clearance.state == "released"
            assert sign_on.entry.irregular == f"Clearance {clearance.pk} is released."
        else:
            assert isinstance(release, Refused)
            assert [refusal.code for refusal in release.refusals] == ["person_on"]
            assert (clearance.state, sign_on.entry.irregular) == ("accepted", "")
        assert clearance.sign_ons.filter(off_at=None).count() == 1
        seen.add(clearance.state)
        race.again(
            f"DELETE FROM clearances_signon WHERE clearance_id = {clearance.pk}",
            f"UPDATE clearances_clearance SET state = 'accepted' WHERE number = {clearance.pk}",
        )
    assert seen <= {"accepted", "released"}
    unbroken()


def test_a_close_is_ordered_while_another_crew_hangs_its_tag(race: Race) -> None:
    """Either the tag is there and the close is refused, or the close was ordered first and the tag, which is
    stored all the same, says so."""
    cast = chapel_row(race)
    ana, bo = cast.job("told"), cast.bring(cast.asked(holder=cast.bo), "told")
    (hang,) = cast.steps(bo, "isolate")
    cast.isolate(ana)
    for stage in ("give", "accept", "release"):
        getattr(cast, stage)(Clearance.objects.get(pk=ana.pk))
    remove, close = cast.steps(ana, "restore")
    cast.give_step(ana, remove)
    cast.report_step(remove)
    for _ in range(ROUNDS):
        picture = version(ana)

        def order(picture: int = picture) -> Outcome:
            return switching.give_step(
                cast.who(cast.dana), step=close.pk, version=picture, given_to="Sal Moreno", repeated_back=True
            )

        def hung() -> Outcome:
            return reporting.report_step(
                cast.who(cast.sal), step=hang.pk, phases="ABC", done_at=now(), made_inoperable="out", tag=True
            )

        ordered, reported = race.together(order, hung)
        assert isinstance(reported, Done)
        tag = Tag.objects.get(number=f"{bo.pk}-1", off_at=None)
        close.refresh_from_db()
        if isinstance(ordered, Done):
            assert close.state == "given"
            assert f"Hung while order {ana.pk} has C-280 ordered closed." in tag.irregular
            version_now = version(bo)
            give = giving.give_clearance(cast.who(cast.dana), clearance=bo.pk, version=version_now)
            assert isinstance(give, Refused)
            assert "close_ordered" in [refusal.code for refusal in give.refusals]
        else:
            assert close.state == "waiting"
            assert "Hung while" not in tag.irregular
        race.again(
            f"UPDATE clearances_step SET state = 'waiting', given_at = NULL WHERE id = {close.pk}",
            f"DELETE FROM clearances_tag WHERE id = {tag.pk}",
        )
    unbroken()


def test_the_holder_accepts_while_the_desk_takes_it_back(race: Race) -> None:
    cast = chapel_row(race)
    clearance = cast.job("given")
    for _ in range(ROUNDS):
        picture = version(clearance)
        winner = one_wins(
            race.together(
                lambda: giving.accept_clearance(
                    cast.who(cast.ana), clearance=clearance.pk, read_back="P-291 to P-293, C-280"
                ),
                lambda picture=picture: giving.take_clearance_back(  # type: ignore[misc]
                    cast.who(cast.dana), clearance=clearance.pk, version=picture, why="no answer"
                ),
            )
        )
        clearance.refresh_from_db()
        assert (
            clearance.state
            == {"accept_clearance": "accepted", "take_clearance_back": "asked"}[winner.entry.verb]
        )
        race.again(
            "UPDATE clearances_clearance SET state = 'given', accepted_at = NULL, accepted_words = ''"
            f" WHERE number = {clearance.pk}"
        )
    unbroken()


def test_the_holder_releases_while_the_desk_moves_the_promised_end(race: Race) -> None:
    """Released first, there is no end to move; moved first, the holder looks again before the release."""
    cast = chapel_row(race)
    clearance = cast.job("accepted")
    for number in range(ROUNDS):
        picture, later = version(clearance), now() + datetime.timedelta(hours=9, minutes=number)
        winner = one_wins(
            race.together(
                lambda picture=picture: giving.release_clearance(  # type: ignore[misc]
                    cast.who(cast.ana),
                    clearance=clearance.pk,
                    version=picture,
                    told_everyone=True,
                    all_off=True,
                ),
                lambda later=later: asking.move_promised_end(  # type: ignore[misc]
                    cast.who(cast.dana, cast.ana, "radio"),
                    clearance=clearance.pk,
                    promised_end=later,
                    why="rock",
                ),
            )
        )
        clearance.refresh_from_db()
        released = winner.entry.verb == "release_clearance"
        assert clearance.state == ("released" if released else "accepted")
        assert (clearance.promised_end == later) is not released
        race.again(
            "UPDATE clearances_clearance SET state = 'accepted', released_at = NULL, released_by_id = NULL"
            f" WHERE number = {clearance.pk}"
        )
    unbroken()


def test_one_checks_the_order_while_the_other_writes_it_again(race: Race) -> None:
    """What was checked is what stands."""
    cast = chapel_row(race)
    clearance = cast.job("order written")
    for _ in range(FEW):
        picture = version(clearance)
        steps = {step.pk for step in cast.steps(clearance, "isolate")}
        winner = one_wins(
            race.together(
                lambda picture=picture: orders.check_order(  # type: ignore[misc]
                    cast.who(cast.ines), clearance=clearance.pk, version=picture
                ),
                lambda picture=picture: orders.write_order(  # type: ignore[misc]
                    cast.who(cast.dana), clearance=clearance.pk, version=picture
                ),
            )
        )
        order = Clearance.objects.select_related("order").get(pk=clearance.pk).order
        now_there = {step.pk for step in cast.steps(clearance, "isolate")}
        if winner.entry.verb == "check_order":
            assert (order.state, now_there) == ("checked", steps)
            back: dict[str, Any] = {
                "clearance": clearance.pk,
                "version": version(clearance),
                "why": "once more",
            }
            done(orders.take_check_back(cast.who(cast.dana), **back))
        else:
            assert order.state == "draft"
            assert len(now_there) == len(steps)
            assert now_there != steps
    unbroken()


def test_a_double_tap_at_the_very_same_moment(race: Race) -> None:
    """One key, two messages at once: both are told that it is done, and it was done once."""
    cast = chapel_row(race)
    clearance = cast.job("told")
    (step,) = cast.steps(clearance, "isolate")
    for number in range(ROUNDS // 2):  # of two acts each
        sal, dana, picture = cast.who(cast.sal), cast.who(cast.dana), version(clearance)
        for act in (
            lambda sal=sal, number=number: on_the_line.sign_on(
                sal, clearance=clearance.pk, name=f"Hand {number}", done_at=now()
            ),
            lambda dana=dana, picture=picture: switching.give_step(
                dana, step=step.pk, version=picture + 1, given_to="Sal Moreno", repeated_back=True
            ),
        ):
            entries = LogEntry.objects.count()
            outcomes = race.together(act, act)
            assert all(isinstance(outcome, Done) for outcome in outcomes), outcomes
            told = [outcome for outcome in outcomes if isinstance(outcome, Done)]
            assert sorted(outcome.repeated for outcome in told) == [False, True]
            assert told[0].entry == told[1].entry
            assert told[0].entry.irregular == ""
            assert LogEntry.objects.count() == entries + 1
        done(
            switching.call_step_back(
                cast.who(cast.dana), step=step.pk, version=version(clearance), why="once more"
            )
        )
    assert clearance.sign_ons.count() == ROUNDS // 2
    unbroken()


def test_both_ends_are_opened_at_the_same_moment(race: Race) -> None:
    """Two switchmen, one at each end of the loop: neither report sees the other end open, yet the customers
    between them are out, and back as soon as one end is closed."""
    cast = race.cast

    def report(device: str, position: str) -> Outcome:
        return reporting.report_position(
            cast.who(cast.sal), device=device, phases="ABC", position=position, done_at=now()
        )

    for _ in range(5):  # each of them tells 62 customers twice
        opened = race.together(lambda: report("C-208", "open"), lambda: report("C-221", "open"))
        assert all(isinstance(outcome, Done) for outcome in opened), opened
        assert {"C-208", "C-221"} <= set(positions.open_phases())
        assert Interruption.objects.filter(on_at=None).count() == 62
        closed = race.together(lambda: report("C-208", "closed"), lambda: report("C-221", "closed"))
        assert all(isinstance(outcome, Done) for outcome in closed), closed
        assert not Interruption.objects.filter(on_at=None).exists()
    unbroken()


def test_a_clearance_is_given_while_an_import_would_feed_it(race: Race, tmp_path: Path) -> None:
    """Either it is given on the network of before and the import is refused, or the other way round."""
    cast = race.cast
    clearance = cast.job("isolated")
    as_it_was = checks.check(packagefile.read(Path("circuits/demo")))
    package = Path(shutil.copytree("circuits/demo", tmp_path / "package"))
    with (package / "lines.csv").open("a", newline="") as lines:
        lines.write("L-new,14,P-286,P-215,ABC,1/0 ACSR,42.1,overhead,continuous,\r\n")
    bridged = checks.check(packagefile.read(package))
    for _ in range(FEW):
        picture = version(clearance)
        given, brought = race.together(
            lambda picture=picture: giving.give_clearance(  # type: ignore[misc]
                cast.who(cast.dana), clearance=clearance.pk, version=picture
            ),
            lambda: importer.import_network(checked=bridged),  # type: ignore[arg-type, return-value]
        )
        assert isinstance(brought, importer.Outcome)
        if isinstance(given, Done):
            assert {sentence[:16] for sentence in brought.refusals} == {"Under clearance "}
            picture = version(clearance)
            done(
                giving.take_clearance_back(
                    cast.who(cast.dana), clearance=clearance.pk, version=picture, why="once more"
                )
            )
        else:
            assert isinstance(given, Refused)
            assert {refusal.code for refusal in given.refusals} == {"source_not_blocked"}
            assert brought.revision
            assert importer.import_network(checked=as_it_was).revision
