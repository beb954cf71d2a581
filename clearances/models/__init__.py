from .changes import ChangeSet
from .customers import AffectedPremises, Interruption
from .flags import StandingFlag
from .jobs import Clearance, IsolationPoint, Job, Limit, SourceDisposition
from .line import GroundSet, SignOn, Tag, VoltageTest
from .log import LogEntry
from .orders import Step, SwitchingOrder
from .people import FailedSignIn, Person, Role

__all__ = [
    "AffectedPremises",
    "ChangeSet",
    "Clearance",
    "FailedSignIn",
    "GroundSet",
    "Interruption",
    "IsolationPoint",
    "Job",
    "Limit",
    "LogEntry",
    "Person",
    "Role",
    "SignOn",
    "SourceDisposition",
    "StandingFlag",
    "Step",
    "SwitchingOrder",
    "Tag",
    "VoltageTest",
]
