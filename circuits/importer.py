"""Putting a checked package in the place of the network in use, in one transaction, or not at all."""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from circuits import positions, upward
from circuits.checks import Checked
from circuits.core.values import in_words
from circuits.models import Contact, Device, NetworkRevision
from circuits.package import TABLE, TABLES, Table
from circuits.packagefile import csv_bytes, members
from circuits.tables import MODELS, current_rows

# Any number of its own: two imports never run at once.
_IMPORT_LOCK = 7_301_221
_BATCH = 2000


@dataclass
class Changes:
    """What an import would do: ids by table."""

    added: dict[str, set[str]] = field(default_factory=dict)
    changed: dict[str, set[str]] = field(default_factory=dict)
    removed: dict[str, set[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Outcome:
    """What became of an import: a new revision, or none and the reasons; neither when nothing had changed."""

    revision: NetworkRevision | None = None
    changes: Changes = field(default_factory=Changes)
    refusals: tuple[str, ...] = ()


class _Refused(Exception):
    """Rolls the transaction back; never seen outside."""


def import_network(
    *, checked: Checked, note: str = "", progress: Callable[[str], object] = lambda line: None
) -> Outcome:
    """Make a package without faults the network in use.

    Rows are told by id: what is unchanged is not touched, what is left out is retired and kept for history,
    and reported positions stay with their devices. Refused, with a sentence for each case, if a device that
    is left out stands out of its normal position, or if `settings.NETWORK_MAY_IMPORT` has reasons. Raises
    ValueError if the package has faults. Cost: one reading of the network in use, one bulk write a table.
    """
    if checked.faults:
        raise ValueError(f"the package has {len(checked.faults)} faults")
    rows = {name: [row.values for row in found] for name, found in checked.rows.items()}
    digest = digest_of(rows)
    try:
        with transaction.atomic():
            return _import(rows, digest, note, progress)
    except _Refused as refused:
        return Outcome(refusals=refused.args)


def digest_of(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    """SHA-256 over the bytes that an export of these rows has."""
    sha = hashlib.sha256()
    for table in TABLES:
        sha.update(table.name.encode() + b"\n" + csv_bytes(table, rows[table.name]))
    return sha.hexdigest()


def export_files() -> list[tuple[str, bytes]]:
    """The files of a package of the network in use."""
    with transaction.atomic():
        _wait_for_imports("pg_advisory_xact_lock_shared")
        return list(members(current_rows))


def _wait_for_imports(lock: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {lock}(%s)", [_IMPORT_LOCK])


def _import(
    rows: Mapping[str, Sequence[dict[str, Any]]], digest: str, note: str, progress: Callable[[str], object]
) -> Outcome:
    _wait_for_imports("pg_advisory_xact_lock")
    newest = NetworkRevision.objects.order_by("-pk").first()
    if newest and newest.digest == digest:
        return Outcome()
    changes = _changes(rows)
    if reasons := _reasons(changes):
        raise _Refused(*reasons)
    revision = NetworkRevision.objects.create(imported_at=timezone.now(), digest=digest, note=note)
    for table in TABLES:
        if table.own_key:
            continue
        touched = changes.added[table.name] | changes.changed[table.name]
        _write(table, [row for row in rows[table.name] if row[table.key[0]] in touched])
        _retire(table, changes.removed[table.name], revision)
        progress(
            f"{table.name}: {len(rows[table.name])} rows, {len(changes.added[table.name])} new, "
            f"{len(changes.changed[table.name])} changed, {len(changes.removed[table.name])} left out"
        )
    _write_contacts(rows["contacts"])
    progress(f"contacts: {len(rows['contacts'])} rows")
    return Outcome(revision=revision, changes=changes)


def _changes(rows: Mapping[str, Sequence[dict[str, Any]]]) -> Changes:
    changes = Changes()
    for table in TABLES:
        if table.own_key:
            continue
        key = table.key[0]
        before = {row[key]: row for row in current_rows(table.name)}
        after = {row[key]: row for row in rows[table.name]}
        changes.added[table.name] = after.keys() - before.keys()
        changes.removed[table.name] = before.keys() - after.keys()
        changes.changed[table.name] = {
            one for one in after.keys() & before.keys() if _differs(before[one], after[one])
        }
    return changes


def _differs(before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    # As written: 12.5 and 12.50 are equal numbers and yet not the same cell.
    return any(value != after[name] or str(value) != str(after[name]) for name, value in before.items())


def _reasons(changes: Changes) -> list[str]:
    gone = changes.removed["devices"]
    # Against a report that comes in at this moment: `positions.record` takes the same lock.
    touched = sorted(gone | changes.changed["devices"])
    list(
        Device.objects.filter(pk__in=touched).order_by("pk").select_for_update(no_key=True).values_list("pk")
    )
    reasons = [
        f"device {device} is left out of the package, but not in its normal position on {in_words(phases)}: "
        "put it back and report that, or keep it in the package"
        for device, phases in sorted(positions.out_of_normal(gone).items())
    ]
    return reasons + upward.reasons_against_import(changes.removed, changes.changed)


def _write(table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    model = MODELS[table.name]
    fields = {column.name: table.field(column) for column in table.columns}
    model.ever.bulk_create(
        (model(**{fields[name]: value for name, value in row.items()}, retired_in=None) for row in rows),
        batch_size=_BATCH,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[*(name for name in fields.values() if name != "id"), "retired_in"],
    )


def _retire(table: Table, ids: set[str], revision: NetworkRevision) -> None:
    MODELS[table.name].objects.filter(pk__in=ids).update(retired_in=revision)


def _write_contacts(rows: Sequence[Mapping[str, Any]]) -> None:
    key = TABLE["contacts"].key
    before = {tuple(row[name] for name in (*key, "rank")) for row in current_rows("contacts")}
    after = {tuple(row[name] for name in (*key, "rank")) for row in rows}
    for premises, channel, address, _ in before - after:
        Contact.objects.filter(premises=premises, channel=channel, address=address).delete()
    Contact.objects.bulk_create(
        (
            Contact(premises_id=premises, channel=channel, address=address, rank=rank)
            for premises, channel, address, rank in sorted(after - before)
        ),
        batch_size=_BATCH,
    )
