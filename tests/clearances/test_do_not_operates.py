"""A customer's electrician works on the customer's own gear and wants the utility's cutout kept open
(practice: that is not a clearance; only the named person, met on site, gives it back)."""

from circuits import positions
from clearances.models import Clearance, DoNotOperate, LogEntry, Step
from clearances.services import VERBS, switching
from clearances.services.verb import Outcome
from tests.cast import Cast, done

from .beside import a_do_not_operate, give_back_do_not_operate, give_do_not_operate, stands
from .plays import Tap
from .said import codes, leans_on, texts
from .sql import GIVE_STEP, breaks, refused, typed

GIVE = (
    "INSERT INTO clearances_donotoperate (device_id, phases, name, employer, phone, work, state, given_at,"
    " given_by_id, met_where) VALUES (%s, %s, %s, 'Novak Electric', '555-0177', '', 'given', now(), %s, '')"
)


def close_of(tap: Tap) -> tuple[Clearance, Step]:
    """A released clearance whose last step, the close of C-233, waits to be given."""
    job = tap.job("released")
    untag, close = tap.steps(job, "restore")
    tap.give_step(job, untag)
    tap.report_step(untag)
    return job, close


def give(tap: Tap, job: Clearance, step: Step) -> Outcome:
    version = Clearance.objects.values_list("version", flat=True).get(pk=job.pk)
    return switching.give_step(
        tap.who(tap.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def test_it_is_given_on_a_reported_open_in_the_name_of_one_person(cast: Cast) -> None:
    assert codes(give_do_not_operate(cast)) == ["not_open"]
    stands(cast, "F-275", "open")
    assert codes(give_do_not_operate(cast)) == ["operable"]
    stands(cast, "F-275", "open", made_inoperable="barrels out, secured")
    assert codes(give_do_not_operate(cast, phone=" ")) == ["not_named"]
    assert codes(give_do_not_operate(cast, device="F-999")) == ["unknown_device"]
    assert codes(give_do_not_operate(cast, device="C-233", phases="A")) == ["unknown_device"]
    words = done(give_do_not_operate(cast)).entry.words
    row = DoNotOperate.objects.get()
    assert words == (
        f"Dana Reyes gives do-not-operate {row.number} at F-275 A, B, C (P-275, Elm Street) for Iris Novak "
        "of Novak Electric, 555-0177: Change the plant's main breaker. It is not a clearance."
    )


def test_s53_it_counts_as_a_tag_there_for_everyone_else(tap: Tap) -> None:
    """Another crew's clearance has the same cutout as its point: its own tag is off, and nobody closes."""
    job, close = close_of(tap)
    row = a_do_not_operate(tap, device="C-233", phases="B")
    said = give(tap, job, close)
    (text,) = texts(said)
    assert text == (
        f"C-233 can't be ordered closed: do-not-operate {row.number} is on it for Iris Novak of Novak "
        "Electric, 555-0177."
    )
    assert leans_on(said) == {"customer's do-not-operate (common practice)"}
    done(give_back_do_not_operate(tap, row))
    done(give(tap, job, close))


def test_s53_only_that_person_met_on_site_gives_it_back(cast: Cast) -> None:
    row = a_do_not_operate(cast)
    assert codes(give_back_do_not_operate(cast, row, given_back_by="the plant")) == ["not_the_named_person"]
    assert codes(give_back_do_not_operate(cast, row, met_where="")) == ["not_met"]
    assert codes(give_back_do_not_operate(cast, row, met_by=None)) == ["not_met"]
    words = done(give_back_do_not_operate(cast, row)).entry.words
    assert words == (
        f"Iris Novak gives do-not-operate {row.number} at F-275 back, met by Sal Moreno at the plant's gate; "
        "entered by Dana Reyes."
    )
    row.refresh_from_db()
    assert (row.state, row.met_by, row.met_where) == ("given_back", cast.sal, "at the plant's gate")
    assert codes(give_back_do_not_operate(cast, row)) == ["given_back_before"]


def test_two_of_them_on_one_device_are_given_back_one_by_one(tap: Tap) -> None:
    job, close = close_of(tap)
    first = a_do_not_operate(tap, device="C-233", phases="B")
    second = a_do_not_operate(tap, device="C-233", phases="B", name="Olu Bright")
    done(give_back_do_not_operate(tap, first))
    assert codes(give(tap, job, close)) == ["do_not_operate"]
    assert second.number in texts(give(tap, job, close))[0]


def test_it_is_not_given_on_a_device_that_is_ordered_closed(tap: Tap) -> None:
    job, close = close_of(tap)
    done(give(tap, job, close))
    asked = {"device": "C-233", "phases": "B"}
    assert codes(give_do_not_operate(tap, **asked)) == ["close_ordered"]
    refused("do_not_operate_with_no_close", GIVE, "C-233", "B", "Iris Novak", tap.dana.pk)


def test_the_database_orders_no_close_under_one(tap: Tap) -> None:
    _, close = close_of(tap)
    row = a_do_not_operate(tap, device="C-233", phases="B")
    assert refused("no_close_with_do_not_operate", GIVE_STEP, tap.dana.pk, close.pk) == (
        f"C-233 can't be ordered closed: do-not-operate {row.number} of Iris Novak is on it."
    )
    done(give_back_do_not_operate(tap, row))
    typed(GIVE_STEP, tap.dana.pk, close.pk)


def test_that_somebody_closes_it_all_the_same_is_stored_and_marked(cast: Cast) -> None:
    row = a_do_not_operate(cast)
    stands(cast, "F-275", "closed", "A")
    entry = LogEntry.objects.filter(verb="report_position").latest("number")
    named = f"Do-not-operate {row.number} is on it for Iris Novak of Novak Electric, 555-0177."
    assert named in entry.irregular
    assert positions.open_phases()["F-275"] == "BC"


def test_the_database_wants_an_open_device_a_person_and_the_meeting(cast: Cast) -> None:
    refused("do_not_operate_on_open", GIVE, "F-275", "ABC", "Iris Novak", cast.dana.pk)
    stands(cast, "F-275", "open", made_inoperable="barrels out, secured")
    breaks("do_not_operate_named", GIVE, "F-275", "ABC", "", cast.dana.pk)
    typed(GIVE, "F-275", "ABC", "Iris Novak", cast.dana.pk)
    row = DoNotOperate.objects.get()
    breaks(
        "do_not_operate_met", "UPDATE clearances_donotoperate SET state = 'given_back' WHERE id = %s", row.pk
    )
    refused("protection_stands", "UPDATE clearances_donotoperate SET name = 'Me' WHERE id = %s", row.pk)
    refused("history_is_kept", "DELETE FROM clearances_donotoperate WHERE id = %s", row.pk)


def test_giving_and_giving_back_ask_who_you_are_again() -> None:
    assert all(VERBS[name].again for name in ("give_do_not_operate", "give_back_do_not_operate"))
