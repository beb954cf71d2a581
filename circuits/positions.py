"""Where devices stand, by phase: recorded as people say it, folded when asked."""

import datetime
from collections.abc import Collection

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from circuits import snapshot
from circuits.assemble import closed_phases
from circuits.core.values import Network, letters, normally_open
from circuits.models import Device, PositionReport


@transaction.atomic
def record(
    *,
    device_id: str,
    phases: str,
    position: str,
    made_inoperable: str = "",
    operable: bool = False,
    said_by: str,
    how: str,
    ordered_at: datetime.datetime | None,
    done_at: datetime.datetime,
    reported_at: datetime.datetime,
    irregular: str = "",
) -> list[PositionReport]:
    """Store that somebody says these phases of a device stand open or closed, one report a phase.

    A phase that stands open already and is seen open again stays made inoperable as it was reported, unless
    `made_inoperable` says otherwise, or `operable` that nothing keeps it from being closed.

    What was seen is always stored, whatever was ordered or expected. Raises Device.DoesNotExist for a device
    that the network never had and ValueError for a phase that it has not, or for none; the database refuses
    other words than its own for `position` and `how`, and a `done_at` after the entry (the caller holds it to
    `reported_at`).
    """
    # Behind the same locks as an import and the checks of an order, so that neither looks past this report.
    snapshot.hold()
    device = Device.ever.select_for_update(no_key=True).get(pk=device_id)
    if not phases or not set(phases) <= set(device.phases):
        raise ValueError(f"{device_id} has phases {device.phases}, not {phases or 'none'}")
    as_before = position == "open" and not (made_inoperable or operable)
    stands = details([device_id]) if as_before else {}
    entered_at = max(timezone.now(), reported_at)  # a clock that is set back loses no report
    return PositionReport.objects.bulk_create(
        PositionReport(
            device=device,
            phase=phase,
            position=position,
            made_inoperable=_how_before(stands.get((device_id, phase))) if as_before else made_inoperable,
            said_by=said_by,
            how=how,
            ordered_at=ordered_at,
            done_at=done_at,
            reported_at=reported_at,
            entered_at=entered_at,
            irregular=irregular,
        )
        for phase in phases
    )


def _how_before(report: PositionReport | None) -> str:
    return report.made_inoperable if report and report.position == "open" else ""


def open_phases(*, at: datetime.datetime | None = None, network: Network | None = None) -> dict[str, str]:
    """Device id -> the letters of its phases that stand open; devices with none are absent.

    With `at`, by what was done until then, whenever it was reported; on the network in use, unless another
    one is given. One query beside the compiled network.
    """
    network = network or snapshot.compiled().network
    opened = {device: set(phases) for device, phases in normally_open(network).items()}
    reports = PositionReport.objects.all() if at is None else PositionReport.objects.filter(done_at__lte=at)
    for device_id, phase, position in _latest(reports).values_list("device_id", "phase", "position"):
        device = network.device.get(device_id)
        if device and phase in device.phases:
            stands = opened.setdefault(device_id, set())
            stands.add(phase) if position == "open" else stands.discard(phase)
    return {device: letters(phases) for device, phases in opened.items() if phases}


def details(device_ids: Collection[str]) -> dict[tuple[str, str], PositionReport | None]:
    """(device id, phase) -> the report that says where it stands; None where the normal position does.

    Every phase of every device asked for is there. Two queries.
    """
    found: dict[tuple[str, str], PositionReport | None] = {
        (pk, phase): None
        for pk, phases in Device.ever.filter(pk__in=device_ids).values_list("pk", "phases")
        for phase in phases
    }
    for report in _latest(PositionReport.objects.filter(device__in=device_ids)):
        if (report.device_id, report.phase) in found:
            found[report.device_id, report.phase] = report
    return found


def out_of_normal(device_ids: Collection[str]) -> dict[str, str]:
    """Which of these devices do not stand in their normal position: device id -> the phases that don't. Three
    queries."""
    normal = {
        pk: closed_phases(phases, position)
        for pk, phases, position in Device.objects.filter(pk__in=device_ids).values_list(
            "pk", "phases", "normal_position"
        )
    }
    moved: dict[str, str] = {}
    for (device_id, phase), report in details(normal).items():
        if report and (report.position == "closed") != (phase in normal[device_id]):
            moved[device_id] = letters({*moved.get(device_id, ""), phase})
    return moved


def _latest(reports: QuerySet[PositionReport]) -> QuerySet[PositionReport]:
    """The report of each device phase that counts: the last done, and of those the last entered."""
    return reports.order_by("device_id", "phase", "-done_at", "-pk").distinct("device_id", "phase")
