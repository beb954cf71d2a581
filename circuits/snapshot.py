"""The network of the newest revision, compiled once a process, and held while somebody decides on it."""

import threading

from django.db import connection

from circuits.assemble import to_network
from circuits.core.network import Compiled, compile_network
from circuits.models import NetworkRevision
from circuits.tables import current_rows

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
