"""The network of the newest revision, compiled once a process."""

import threading

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

_lock = threading.Lock()
_cached: Compiled | None = None


def compiled() -> Compiled:
    """The compiled network; `.network` on it is the plain one, `.network.revision` says which revision it is.

    Without any import it is an empty network of revision 0. Cost: one query, and after an import one reading
    of the whole network by whichever thread comes first; the others wait for it.
    """
    global _cached
    newest = NetworkRevision.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    with _lock:
        if _cached is None or _cached.network.revision != newest:
            _cached = compile_network(to_network({name: current_rows(name) for name in _TABLES}, newest))
        return _cached
