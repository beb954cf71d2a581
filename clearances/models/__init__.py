from .changes import ChangeSet
from .customers import AffectedPremises, Interruption
from .exchange import InformationExchange
from .flags import StandingFlag
from .jobs import Clearance, IsolationPoint, Job, Limit, PickUp, SourceDisposition
from .line import GroundSet, SignOn, Tag, VoltageTest
from .log import LogEntry
from .orders import Step, SwitchingOrder
from .people import FailedSignIn, Person, Role
from .proofs import BrokenProof
from .protections import DoNotOperate, FieldClearance, HoldReport, HotLineHold
from .rollcall import RollCall
from .seen import Blow, Call, NeverOn, Patrol
from .troubles import Trouble

__all__ = [
    "AffectedPremises",
    "Blow",
    "BrokenProof",
    "Call",
    "ChangeSet",
    "Clearance",
    "DoNotOperate",
    "FailedSignIn",
    "FieldClearance",
    "GroundSet",
    "HoldReport",
    "HotLineHold",
    "InformationExchange",
    "Interruption",
    "IsolationPoint",
    "Job",
    "Limit",
    "LogEntry",
    "NeverOn",
    "Patrol",
    "Person",
    "PickUp",
    "Role",
    "RollCall",
    "SignOn",
    "SourceDisposition",
    "StandingFlag",
    "Step",
    "SwitchingOrder",
    "Tag",
    "Trouble",
    "VoltageTest",
]
