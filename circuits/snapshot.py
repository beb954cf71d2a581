"""The network of the newest revision, compiled once a process, and held while somebody decides on it; and
the network of a past time, and as it will be when what is planned is built."""

import datetime
import functools
import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.db import connection

from circuits import asleft, story
from circuits.assemble import to_network
from circuits.core.network import Compiled, compile_network
from circuits.models import NetworkRevision
from circuits.tables import current_rows, rows_by_id

_TABLES = (
    "circuits",
    "structures",
    "nodes",
    "lines",
    "devices",
    "transformers",
    "regulators",
    "capacitors",
    "loads",
    "sources",
    "premises",
)

# Any number of its own, of the advisory lock of `hold`.
_IN_USE = 7_301_222

_lock = threading.Lock()
_cached: Compiled | None = None


def hold(*, alone: bool = False) -> None:
    """Until this transaction ends no import changes the network that it looks at.

    `alone` waits for all others that hold it and keeps them waiting: for the last part of an import.
    """
    lock = "pg_advisory_xact_lock" if alone else "pg_advisory_xact_lock_shared"
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {lock}(%s)", [_IN_USE])


def revision() -> int:
    """The number of the network in use; 0 before the first import."""
    return NetworkRevision.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def compiled() -> Compiled:
    """The compiled network; `.network` on it is the plain one, `.network.revision` says which revision it is.

    Without any import it is an empty network of revision 0. Cost: one query, and after an import one reading
    of the whole network by whichever thread comes first; the others wait for it.
    """
    global _cached
    newest = revision()
    with _lock:
        if _cached is None or _cached.network.revision != newest:
            _cached = compile_network(to_network({name: current_rows(name) for name in _TABLES}, newest))
        return _cached


def adopt(network: Compiled, number: int) -> None:
    """Take a network that was compiled before its revision was written for that revision's, which saves the
    reading."""
    global _cached
    with _lock:
        _cached = replace(network, network=replace(network.network, revision=number))


def at(moment: datetime.datetime) -> Compiled:
    """The network as the board knew it at a past moment: of the last revision until then, or of the first
    one. Cost: one query for the present one; else one reading of the whole network, kept a process."""
    number = revision_at(moment)
    return compiled() if number == revision() else _past(number)


def revision_at(moment: datetime.datetime) -> int:
    """The number of the network that was in use at a moment, or of the first one; 0 without any."""
    until_then = NetworkRevision.objects.filter(imported_at__lte=moment).order_by("-pk")
    first = NetworkRevision.objects.order_by("pk")
    return (until_then.first() or first.first() or NetworkRevision(pk=0)).pk


@functools.lru_cache(maxsize=2)
def _past(number: int) -> Compiled:
    return compile_network(to_network({name: story.rows_at(name, number) for name in _TABLES}, number))


def planned(changes: Sequence[tuple[str, Mapping[str, str]]]) -> Compiled:
    """The network in use with changes of `circuits.asleft.TRADE` laid over that are still to be built.

    Raises CannotBeError where one can't be made of the rows that are there by now. Cost: as `at`.
    """
    return _planned(revision(), tuple((name, tuple(sorted(given.items()))) for name, given in changes))


@functools.lru_cache(maxsize=2)
def _planned(number: int, changes: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]) -> Compiled:
    rows: dict[str, dict[str, Any]] = rows_by_id()
    made = asleft.made(rows, [(name, dict(given)) for name, given in changes])
    after = asleft.laid_over(rows, made)
    return compile_network(to_network({name: after[name].values() for name in _TABLES}, number))
