"""Putting a checked package in the place of the network in use, in one transaction, or not at all."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from circuits import bulk, positions, snapshot, upward
from circuits.changes import Changes, compare, identity
from circuits.checks import Checked
from circuits.core.network import Compiled
from circuits.core.values import in_words
from circuits.locks import one_after_the_other
from circuits.models import Contact, NetworkRevision
from circuits.package import TABLE, TABLES, Table
from circuits.packagefile import members
from circuits.tables import MODELS, current_rows

# Any number of its own: two imports never run at once.
_IMPORT_LOCK = 7_301_221

Rows = Mapping[str, Sequence[dict[str, Any]]]
Progress = Callable[[str], object]


@dataclass(frozen=True)
class Outcome:
    """What became of an import: a new revision, or none and the refusals; neither when nothing has changed.

    `consequences` are sentences about plans that the new network upsets. `newer`: the network in use is no
    longer the one that the import was decided on.
    """

    revision: NetworkRevision | None = None
    changes: Changes = field(default_factory=Changes)
    refusals: tuple[str, ...] = ()
    consequences: tuple[str, ...] = ()
    newer: bool = False


class _Refused(Exception):
    """Rolls the transaction back; never seen outside."""

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome


def _silent(line: str) -> None:
    pass


def what_it_would_do(*, checked: Checked) -> Outcome:
    """What `import_network` would find and say now; nothing is written. Cost: one reading of the network."""
    with transaction.atomic():
        changes = compare(_rows(checked))
        verdict = _verdict(changes, _network(checked))
        return Outcome(changes=changes, refusals=verdict.against, consequences=verdict.consequences)


def import_network(
    *,
    checked: Checked,
    note: str = "",
    by: object = None,
    decided_on: int | None = None,
    progress: Progress = _silent,
) -> Outcome:
    """Make a package without faults the network in use.

    Rows are told by id: what is unchanged is not touched, what is left out is retired and kept for history,
    and reported positions stay with their devices. Refused, with a sentence for each case, if a device that
    is left out stands out of its normal position, or if `settings.NETWORK_MAY_IMPORT` has reasons; not done,
    either, if `decided_on` names another revision than the one in use. `by` is the person whose import it is
    (None: nobody of the board's). Raises ValueError if the package has faults.

    Nearly all is written before anybody is kept waiting; then, with no verb under way (`snapshot.hold`), the
    refusals are asked once more on what stands at that moment, the devices that people report about are
    written, and the transaction ends. Cost: one reading of the network in use, one COPY and some INSERTs a
    table.
    """
    network = _network(checked)
    revision = NetworkRevision(digest=checked.digest, note=note, imported_by=str(by or ""))
    try:
        with transaction.atomic():
            return _import(_rows(checked), network, revision, by, decided_on, progress)
    except _Refused as refused:
        return refused.outcome


def _rows(checked: Checked) -> Rows:
    return {name: [row.values for row in found] for name, found in checked.rows.items()}


def _network(checked: Checked) -> Compiled:
    if checked.compiled is None:
        raise ValueError(f"the package has {len(checked.faults)} faults")
    return checked.compiled


def export_files() -> list[tuple[str, bytes]]:
    """The files of a package of the network in use."""
    with transaction.atomic():
        snapshot.hold()
        return list(members(current_rows))


def _import(
    rows: Rows,
    network: Compiled,
    revision: NetworkRevision,
    by: object,
    decided_on: int | None,
    progress: Progress,
) -> Outcome:
    one_after_the_other(_IMPORT_LOCK)
    if decided_on is not None and decided_on != snapshot.revision():
        return Outcome(newer=True)
    progress("Comparing with the network in use.")
    compared_on = snapshot.revision()
    changes = compare(rows)
    if not changes:
        return Outcome()
    _judged(changes, network)
    revision.imported_at = timezone.now()
    revision.save(force_insert=True)
    for table in TABLES:
        _write(table, rows[table.name], changes, revision)
        added, changed, removed = changes.counts(table.name)
        progress(
            f"{table.name}: {len(rows[table.name])} rows, {added} new, {changed} changed, {removed} left out"
        )
    progress("Asking the database whether all rows refer to rows that are there.")
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED")
    snapshot.hold(alone=True)
    if NetworkRevision.objects.filter(pk__gt=compared_on).exclude(pk=revision.pk).exists():
        raise _Refused(
            Outcome(newer=True)
        )  # a change as built has come in between: nobody waits for an import
    consequences = _judged(changes, network)
    _write_over(TABLE["devices"], rows["devices"], changes, revision)
    upward.imported(revision, by, consequences)
    return Outcome(revision=revision, changes=changes, consequences=consequences)


def _judged(changes: Changes, network: Compiled) -> tuple[str, ...]:
    """What follows from the changes for plans; raises `_Refused` if there is anything against them."""
    verdict = _verdict(changes, network)
    if verdict.against:
        raise _Refused(Outcome(changes=changes, refusals=verdict.against, consequences=verdict.consequences))
    return verdict.consequences


def _verdict(changes: Changes, network: Compiled) -> upward.Verdict:
    against = tuple(
        f"device {device} is left out of the package, but not in its normal position on {in_words(phases)}: "
        "put it back and report that, or keep it in the package"
        for device, phases in sorted(positions.out_of_normal(changes.removed["devices"]).items())
    )
    changed = {name: set(found) for name, found in changes.changed.items()}
    cells = {
        table: {ident: {name for name, _, _ in differences} for ident, differences in found.items()}
        for table, found in changes.changed.items()
    }
    above = upward.may_import(
        upward.Proposal(changes.removed, changed, network, added=changes.added, cells=cells)
    )
    return upward.Verdict(
        against=(*against, *above.against),
        consequences=(*_counted_otherwise(changes), *above.consequences),
    )


def _counted_otherwise(changes: Changes) -> Iterator[str]:
    """Devices of which nobody has reported where they stand, so that a new normal position moves them."""
    moved = {
        device: (before, after)
        for device, differences in changes.changed["devices"].items()
        for name, before, after in differences
        if name == "normal_position"
    }
    unreported: dict[str, str] = {}
    for (device, phase), report in positions.details(moved).items():
        if report is None:
            unreported[device] = unreported.get(device, "") + phase
    for device, phases in sorted(unreported.items()):
        before, after = moved[device]
        yield (
            f"The normal position of device {device} becomes {after}, until now {before}; nobody has "
            f"reported its {in_words(phases)}, so the board will take it to stand there."
        )


def _write(
    table: Table, rows: Sequence[Mapping[str, Any]], changes: Changes, revision: NetworkRevision
) -> None:
    """The new rows, and what becomes of the others; devices wait until nobody reports on them."""
    new = changes.added[table.name]
    if table.own_key:
        renewed = changes.changed[table.name].keys()
        _delete_contacts(changes.removed[table.name] | renewed)
        new = new | renewed
    else:
        new = new - _retired(table)
    bulk.copy_in(table, (row for row in rows if identity(table, row) in new), revision.pk)
    if table.name in MODELS and table.name != "devices":
        _write_over(table, rows, changes, revision)


def _write_over(
    table: Table, rows: Sequence[Mapping[str, Any]], changes: Changes, revision: NetworkRevision
) -> None:
    """The rows that the table has already, in use or retired; what is left out is retired now."""
    known = changes.changed[table.name].keys() | (changes.added[table.name] & _retired(table))
    bulk.write_over(table, [row for row in rows if identity(table, row) in known])
    gone = changes.removed[table.name]
    MODELS[table.name].objects.filter(pk__in=gone).update(retired_in=revision)


def _retired(table: Table) -> set[str]:
    return set(MODELS[table.name].ever.exclude(retired_in=None).values_list("pk", flat=True))


def _delete_contacts(gone: set[str]) -> None:
    if not gone:
        return
    table = TABLE["contacts"]
    rows = Contact.objects.values("pk", *table.key).iterator()
    Contact.objects.filter(pk__in=[row["pk"] for row in rows if identity(table, row) in gone]).delete()
