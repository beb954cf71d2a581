"""The network as rows, one model for each table of a network package, and what is reported about its devices.

A model's fields carry the names of the package's columns, except that the id column is `id` and a reference
is a foreign key without `_id`. Quantities are `numeric` without a fixed scale, so that a number comes back
out as it was given. An empty cell is NULL in a quantity or a truth value and "" in a text.
"""

from circuits.models.base import NetworkRevision, RowVersion
from circuits.models.customers import Contact, Premises, Source
from circuits.models.equipment import Capacitor, Device, Load, Regulator, Transformer
from circuits.models.handed_in import HandedIn, State
from circuits.models.lines import Circuit, Conductor, Line, Node, Structure
from circuits.models.reports import PositionReport

__all__ = [
    "Capacitor",
    "Circuit",
    "Conductor",
    "Contact",
    "Device",
    "HandedIn",
    "Line",
    "Load",
    "NetworkRevision",
    "Node",
    "PositionReport",
    "Premises",
    "Regulator",
    "RowVersion",
    "Source",
    "State",
    "Structure",
    "Transformer",
]
