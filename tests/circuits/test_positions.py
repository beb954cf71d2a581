"""Positions are what people said, folded; and what was said can't be unsaid, not by hand-typed SQL either."""

import datetime

import pytest
from django.db import DatabaseError, connection, transaction

from circuits import positions
from circuits.models import Device, NetworkRevision, PositionReport
from tests.circuits.conftest import at, report

pytestmark = pytest.mark.usefixtures("demo_network")


def test_without_reports_everything_stands_as_is_normal() -> None:
    assert positions.open_phases() == {"N-7": "ABC"}
    assert positions.details(["C-208"]) == {("C-208", phase): None for phase in "ABC"}


def test_one_report_a_phase_with_all_that_was_said() -> None:
    (found,) = positions.record(
        device_id="C-208",
        phases="B",
        position="open",
        made_inoperable="barrel out",
        said_by="Sal Moreno",
        how="radio",
        ordered_at=at("08:39"),
        done_at=at("08:41"),
        reported_at=at("08:42"),
        irregular="not ordered",
    )
    kept = PositionReport.objects.get(pk=found.pk)
    assert (kept.device_id, kept.phase, kept.position, kept.made_inoperable) == (
        "C-208",
        "B",
        "open",
        "barrel out",
    )
    assert (kept.said_by, kept.how, kept.irregular) == ("Sal Moreno", "radio", "not ordered")
    assert (kept.ordered_at, kept.done_at, kept.reported_at) == (at("08:39"), at("08:41"), at("08:42"))
    assert kept.entered_at > kept.reported_at
    assert positions.details(["C-208"])["C-208", "B"] == kept


def test_each_phase_moves_by_itself() -> None:
    report("C-208", "AB", "open", "08:41")
    report("C-208", "A", "closed", "08:50")
    assert positions.open_phases() == {"C-208": "B", "N-7": "ABC"}
    assert positions.out_of_normal(["C-208", "N-7"]) == {"C-208": "B"}


def test_what_was_done_last_counts_and_not_what_was_entered_last() -> None:
    report("C-208", "A", "closed", "09:00")
    report("C-208", "A", "open", "08:41")
    assert "C-208" not in positions.open_phases()


def test_of_two_reports_of_one_minute_the_one_entered_last_counts() -> None:
    report("C-208", "A", "open", "08:41")
    report("C-208", "A", "closed", "08:41")
    assert "C-208" not in positions.open_phases()


def test_the_positions_of_an_earlier_time() -> None:
    report("C-208", "ABC", "open", "08:41")
    report("C-208", "ABC", "closed", "11:46")
    assert positions.open_phases(at=at("08:40")) == {"N-7": "ABC"}
    assert positions.open_phases(at=at("08:41"))["C-208"] == "ABC"
    assert "C-208" not in positions.open_phases(at=at("11:46"))


def test_a_normally_open_tie_that_was_closed() -> None:
    report("N-7", "ABC", "closed", "10:00")
    assert positions.open_phases() == {}
    assert positions.out_of_normal(["N-7"]) == {"N-7": "ABC"}


@pytest.mark.parametrize(("phases", "named"), [("C", "not C"), ("", "not none")])
def test_a_phase_that_the_device_has_not_is_refused(phases: str, named: str) -> None:
    with pytest.raises(ValueError, match=f"F-212 has phases B, {named}"):
        report("F-212", phases, "open", "08:41")


def test_an_unknown_device_is_refused() -> None:
    with pytest.raises(Device.DoesNotExist):
        report("C-999", "A", "open", "08:41")


def test_a_phase_that_a_device_has_lost_is_history() -> None:
    report("F-218", "ABC", "open", "08:41")
    Device.objects.filter(pk="F-218").update(phases="AB")
    NetworkRevision.objects.create(imported_at=at("08:50"), digest="by hand")
    assert positions.open_phases()["F-218"] == "AB"
    assert set(positions.details(["F-218"])) == {("F-218", "A"), ("F-218", "B")}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE circuits_positionreport SET position = 'closed'",
        "DELETE FROM circuits_positionreport",
        "TRUNCATE circuits_positionreport",
    ],
)
def test_hand_typed_sql_may_not_change_what_was_said(statement: str) -> None:
    report("C-208", "A", "open", "08:41")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert positions.open_phases()["C-208"] == "A"


@pytest.mark.parametrize(
    ("column", "value", "constraint"),
    [
        ("phase", "D", "circuits_positionreport_phase"),
        ("position", "half", "circuits_positionreport_position"),
        ("how", "mind", "circuits_positionreport_how"),
        ("said_by", "", "circuits_positionreport_said_by"),
    ],
)
def test_hand_typed_sql_may_not_say_what_makes_no_sense(column: str, value: str, constraint: str) -> None:
    now = datetime.datetime.now(datetime.UTC)
    row: dict[str, str | datetime.datetime] = {
        "device_id": "C-208",
        "phase": "A",
        "position": "open",
        "made_inoperable": "",
        "said_by": "Sal Moreno",
        "how": "radio",
        "done_at": now,
        "reported_at": now,
        "entered_at": now,
        "irregular": "",
    }
    row[column] = value
    names = ", ".join(row)
    places = ", ".join(["%s"] * len(row))
    with pytest.raises(DatabaseError, match=constraint), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO circuits_positionreport ({names}) VALUES ({places})", list(row.values()))
