"""What a row of a hot-line hold, a do-not-operate or a field clearance must have, typed by hand as the
board's own role. What binds orders is beside its rule, in `test_holds`, `test_do_not_operates` and
`test_field_clearances`."""

import pytest

from tests.cast import Cast

from .beside import a_hold, stands
from .sql import breaks, typed

ASK = (
    "INSERT INTO clearances_hotlinehold (device_id, holder_id, crew, work, place_words, nodes, phases, state,"
    " asked_at, accepted_words) VALUES ('R-31', %s, '', '', '', %s, %s, 'asked', now(), '')"
)
SAY = (
    "INSERT INTO clearances_holdreport (hold_id, said, words, done_at, entered_at, said_by, irregular)"
    " VALUES (%s, %s, '', now(), now(), 'Sal', '')"
)
KEEP = (
    "INSERT INTO clearances_donotoperate (device_id, phases, name, employer, phone, work, state, given_at,"
    " given_by_id, met_where) VALUES ('F-275', %s, 'Iris', 'Novak', '555-0177', '', 'given', now(), %s, '')"
)
START = (
    "INSERT INTO clearances_fieldclearance (device_id, phases, holder_id, crew, work, nodes, inside_phases,"
    " state, started_at) VALUES ('F-210', %s, %s, '', '', %s, 'A', 'on', now())"
)


@pytest.mark.parametrize(
    ("nodes", "phases", "rule"), [(["P-278"], "", "hold_phases"), ([], "A", "hold_somewhere")]
)
def test_a_hold_is_somewhere_on_some_phases(cast: Cast, nodes: list[str], phases: str, rule: str) -> None:
    breaks(rule, ASK, cast.bo.pk, nodes, phases)


def test_a_hold_is_given_by_somebody_and_accepted_in_words(cast: Cast) -> None:
    hold = a_hold(cast, "asked")
    typed(SAY, hold.pk, "reclose_off")
    typed(SAY, hold.pk, "tag_hung")
    breaks(
        "hold_given_by_someone", "UPDATE clearances_hotlinehold SET state = 'given' WHERE id = %s", hold.pk
    )
    given = (
        "UPDATE clearances_hotlinehold SET state = 'given', given_at = now(), given_by_id = %s WHERE id = %s"
    )
    typed(given, cast.dana.pk, hold.pk)
    accepted = "UPDATE clearances_hotlinehold SET state = 'accepted', accepted_at = now() WHERE id = %s"
    breaks("hold_accepted_in_words", accepted, hold.pk)


def test_what_is_said_of_a_hold_is_one_of_the_known_words(cast: Cast) -> None:
    hold = a_hold(cast)
    breaks("hold_report_known", SAY, hold.pk, "perhaps")
    typed(SAY, hold.pk, "tag_off")  # an observation that does not fit: stored, and marked
    assert hold.reports.latest("pk").irregular == f"Hot-line hold {hold.number} is accepted."


def test_a_do_not_operate_and_a_field_clearance_are_on_some_phases(cast: Cast) -> None:
    stands(cast, "F-275", "open", made_inoperable="barrels out")
    breaks("do_not_operate_phases", KEEP, "CA", cast.dana.pk)
    stands(cast, "F-210", "open", "A")
    breaks("field_clearance_phases", START, "AA", cast.ana.pk, ["P-210t"])
    breaks("field_clearance_somewhere", START, "A", cast.ana.pk, [])
