"""Taking in a network package: handed in on a page, checked and imported by a worker, decided by a person.

PostgreSQL is the truth: what waits is a row, and whoever works on it holds an advisory lock, so that a killed
worker leaves it to the next one. A message by Redis only says that something waits; beat says so every minute
in any case.
"""

import datetime
import io
import logging
import threading
import time
import zipfile
from collections.abc import Callable, Sequence
from contextlib import closing
from typing import Any, TypeAlias

from celery import current_app
from django.core.files.uploadedfile import UploadedFile
from django.db import connection, transaction
from django.utils import timezone

from circuits import checks, findings, importer, packagefile, snapshot
from circuits.models import HandedIn, State
from circuits.package import TABLES

# Generic in the stubs only.
Upload: TypeAlias = "UploadedFile[Any]"

log = logging.getLogger(__name__)

TASK = "circuits.tasks.take_in"
# What is handed in at once, zipped or not.
MOST_BYTES = 32_000_000
KEPT = datetime.timedelta(days=1)
ATTEMPTS = 3
_TO_DO = (State.WAITING, State.WANTED)
# Any number of its own; with it goes the number of the package.
_WORK_LOCK = 7_301_223
# Seconds between two lines of progress: each makes every page of the desk look again.
_PAUSE = 2.0


class NotTaken(Exception):
    """Why files were not taken in, in one sentence."""


def hand_in(files: Sequence[Upload], by: Any) -> HandedIn:
    """Keep a zip file, or tables as CSV files, as a package that waits to be checked. Raises `NotTaken`."""
    size = sum(file.size or 0 for file in files)
    if not files:
        raise NotTaken("Choose a zip file, or the CSV files of a package.")
    if size > MOST_BYTES:
        most = f"at most {MOST_BYTES / 1e6:.0f} MB are taken here"
        raise NotTaken(f"This is {size / 1e6:.0f} MB, and {most}. Zip it, or leave out what is no table.")
    first = files[0]
    zipped = zipfile.is_zipfile(first)
    first.seek(0)
    content = first.read() if zipped and len(files) == 1 else _zipped(files)
    name = str(first.name) if len(files) == 1 else f"{len(files)} files"
    package = HandedIn.objects.create(
        name=packagefile.legible(name)[:200], content=content, by=by, handed_in_at=timezone.now()
    )
    _hint()
    return package


def _zipped(files: Sequence[Upload]) -> bytes:
    """Loose tables as a package; a descriptor of the usual names where there is none among them."""
    tables = {f"{table.name}.csv": table.name for table in TABLES}
    contents: dict[str, bytes] = {}
    for file in files:
        name = packagefile.legible(file.name)
        if name not in tables and name != packagefile.DESCRIPTOR:
            raise NotTaken(
                f"{name} is neither a zip file nor a table of a network package (nodes.csv, lines.csv ...). "
                "Hand in one zip file, or tables under their own names."
            )
        if name in contents:
            raise NotTaken(f"{name} is there twice.")
        contents[name] = file.read()
    if packagefile.DESCRIPTOR not in contents:
        contents |= [packagefile.described(tables[name] for name in contents)]
    out = io.BytesIO()
    packagefile.pack(out, contents.items())
    return out.getvalue()


def decide(package_id: int, *, on: int, note: str) -> bool:
    """Somebody wants this package, as it was checked on revision `on`, to be the network in use. False if it
    is not there to be decided."""
    checked = HandedIn.objects.filter(pk=package_id, state=State.CHECKED, checked_on=on)
    wanted = checked.update(state=State.WANTED, note=note, attempts=0, progress="")
    if wanted:
        _hint()
    return bool(wanted)


def check_again(package_id: int) -> bool:
    """Have a checked package checked once more, since the network or what lies on it may have changed."""
    checked = HandedIn.objects.filter(pk=package_id, state=State.CHECKED)
    waits = checked.update(state=State.WAITING, attempts=0, progress="")
    if waits:
        _hint()
    return bool(waits)


def take_back(package_id: int) -> bool:
    """Forget a package that is not being worked on."""
    done = HandedIn.objects.filter(pk=package_id).exclude(state=State.WANTED)
    return bool(done.delete()[0])


def take_in() -> None:
    """Do what waits, the oldest first, and forget what is older than a day. For a worker."""
    HandedIn.objects.filter(handed_in_at__lt=timezone.now() - KEPT).delete()
    for package_id in HandedIn.objects.filter(state__in=_TO_DO).order_by("pk").values_list("pk", flat=True):
        _work_on(package_id)


def _work_on(package_id: int) -> None:
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_xact_lock(%s, %s)", [_WORK_LOCK, package_id % 2**31])
            mine = cursor.fetchone() == (True,)
        package = HandedIn.objects.filter(pk=package_id, state__in=_TO_DO).first() if mine else None
        if package is None:
            return
        _beside("UPDATE circuits_handedin SET attempts = attempts + 1 WHERE id = %s", package_id)
        if package.attempts >= ATTEMPTS:
            last = package.progress or "reading it"
            found = _broken(f"Nothing came of it in {ATTEMPTS} attempts; the last one ended at: {last}")
        else:
            try:
                with transaction.atomic():
                    found = _do(package, _teller(package_id))
            except Exception:
                log.exception("Package %s was given up", package_id)
                found = _broken("The board stumbled over this package; its own log says where.")
        # Its person may have taken it back meanwhile.
        HandedIn.objects.filter(pk=package_id).update(progress="", **found)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_notify('board', '')")


def _do(package: HandedIn, progress: Callable[[str], object]) -> dict[str, Any]:
    """Check a package, and import it if that is wanted: what is to be written into its row."""
    on = snapshot.revision()
    checked = checks.check(packagefile.read_zip(io.BytesIO(package.content)), progress)
    if checked.faults:
        return {"state": State.CHECKED, "result": findings.of_faults(checked), "checked_on": 0}
    tried: dict[str, Any] = {}
    if package.state == State.WANTED:
        outcome = importer.import_network(
            checked=checked,
            note=package.note,
            by=package.by,
            decided_on=package.checked_on,
            progress=progress,
        )
        if outcome.revision:
            return {
                "state": State.IMPORTED,
                "result": findings.of_outcome(checked, outcome),
                "revision": outcome.revision,
                "content": b"",
            }
        tried = {"not_done": True, "newer": outcome.newer}
    progress("Comparing with the network in use.")
    result = findings.of_outcome(checked, importer.what_it_would_do(checked=checked))
    return {"state": State.CHECKED, "result": result | tried, "checked_on": on}


def _broken(sentence: str) -> dict[str, Any]:
    return {"state": State.CHECKED, "result": {"broken": sentence}, "checked_on": 0}


def _teller(package_id: int) -> Callable[[str], object]:
    """What writes lines of progress, not more than one in `_PAUSE`."""
    told = 0.0

    def tell(line: str) -> None:
        nonlocal told
        if time.monotonic() - told > _PAUSE:
            told = time.monotonic()
            _beside("UPDATE circuits_handedin SET progress = %s WHERE id = %s", line, package_id)

    return tell


def _beside(statement: str, *parameters: str | int) -> None:
    """Write at once, on a connection of its own, where the work's own transaction is still open."""
    with closing(connection.copy()) as other, other.cursor() as cursor:
        cursor.execute(statement, parameters)
        cursor.execute("SELECT pg_notify('board', '')")


def _hint() -> None:
    """Tell a worker after the commit, by a thread: the request waits for no broker. It may be lost."""
    transaction.on_commit(lambda: threading.Thread(target=_publish, daemon=True).start())


def _publish() -> None:
    try:
        current_app.send_task(TASK, retry=False, ignore_result=True)
    except Exception as error:  # noqa: BLE001, whatever it is, beat makes up for it
        log.warning("No hint sent, beat will find the package: %s", error)
