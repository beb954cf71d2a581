"""What every change on the board has in common.

A verb is one function, one transaction and one log entry. Whoever calls it (a page, the API, a command) gets
a value back: `Done`, `Refused`
with the reasons, or `Stale` when the picture it was decided on is no longer the present one. Roles are asked
here, so no way in can pass by
them. An idempotency key that was already logged gives the first outcome again and changes nothing.
"""

import datetime
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Concatenate, ParamSpec
from uuid import UUID

import psycopg
from django.core.exceptions import ObjectDoesNotExist
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.models import F
from django.utils import timezone

from circuits import snapshot

from .. import flags, log, watch
from ..models import (
    BrokenProof,
    ChangeSet,
    Clearance,
    DoNotOperate,
    FieldClearance,
    HotLineHold,
    LogEntry,
    Person,
    Role,
    RollCall,
    Step,
    Trouble,
)
from ..rules.clauses import LEGIBLE, PICTURE, ROLE
from ..rules.given import unfit
from ..rules.queued import may_come_late
from ..rules.refusal import Refusal
from .phone import Phone, told

# What another transaction at the same moment can cause. Tried again, because the second try sees what the
# first collided with: the same key
# sent twice, the same name signed on twice. So no observation is lost to a collision.
PASSING = (
    psycopg.errors.LockNotAvailable,
    psycopg.errors.DeadlockDetected,
    psycopg.errors.UniqueViolation,
)
ATTEMPTS = 3
# What verbs are about by its number, and the argument that holds it.
NUMBERED: dict[type[ObjectDoesNotExist], str] = {
    Clearance.DoesNotExist: "clearance",
    Step.DoesNotExist: "step",
    LogEntry.DoesNotExist: "entry",
    RollCall.DoesNotExist: "call",
    HotLineHold.DoesNotExist: "hold",
    DoNotOperate.DoesNotExist: "do_not_operate",
    FieldClearance.DoesNotExist: "field_clearance",
    Trouble.DoesNotExist: "trouble",
    ChangeSet.DoesNotExist: "change_set",
    BrokenProof.DoesNotExist: "broken_proof",
}
REFUSED_BY_DATABASE = "BRD01"  # the SQLSTATE of this board's own triggers; their message is a sentence


@dataclass(frozen=True, slots=True)
class Who:
    """Who does this: the person at the keyboard, for whom they speak (the desk entering a foreman's word),
    and how the word came.
    """

    by: Person
    speaking_for: Person | None = None
    how: str = "board"
    key: UUID | None = None
    phone: Phone | None = None

    @property
    def actor(self) -> Person:
        """The person whose act it is."""
        return self.speaking_for or self.by

    @property
    def said_by(self) -> str:
        if self.speaking_for is None:
            return str(self.by)
        return f"{self.speaking_for}, entered by {self.by} ({self.how})"


@dataclass(frozen=True, slots=True)
class Done:
    entry: LogEntry
    repeated: bool = False


@dataclass(frozen=True, slots=True)
class Refused:
    refusals: tuple[Refusal, ...]


@dataclass(frozen=True, slots=True)
class Stale:
    sentence: str


Outcome = Done | Refused | Stale


@dataclass(frozen=True, slots=True)
class Verb:
    """A registered verb: its name, the roles that may do it, the function, whether it asks who you are again
    (the page and the API then want the password of the person at the keyboard), and whether it is the field's
    own word, which an operator may enter for them.
    """

    name: str
    roles: tuple[str, ...]
    run: Callable[..., Outcome]
    again: bool
    field_word: bool


VERBS: dict[str, Verb] = {}

P = ParamSpec("P")


def verb(
    *roles: str,
    again: bool = False,
    field_word: bool = False,
) -> Callable[[Callable[Concatenate[Who, P], Outcome]], Callable[Concatenate[Who, P], Outcome]]:
    """Register a service function as a verb for `roles`, and run it in one transaction."""

    def register(service: Callable[Concatenate[Who, P], Outcome]) -> Callable[Concatenate[Who, P], Outcome]:
        name = service.__name__

        @functools.wraps(service)
        def run(who: Who, /, *args: P.args, **kwargs: P.kwargs) -> Outcome:
            if not who.by.has_role(*roles):
                return Refused((role_refusal(who.by, roles),))
            if who.speaking_for and not field_word:
                return Refused((_own_word(who.by, name),))
            if who.speaking_for and not who.by.has_role(Role.OPERATOR):
                return Refused((role_refusal(who.by, (Role.OPERATOR,)),))
            if not who.actor.has_role(*roles):
                return Refused((role_refusal(who.actor, roles),))
            if illegible := unfit(kwargs):
                return Refused(illegible)
            if who.phone and (too_late := may_come_late(name, late=who.phone.late)):
                return Refused(too_late)
            for attempt in range(1, ATTEMPTS + 1):
                try:
                    return _once(who, name, functools.partial(service, who, *args, **kwargs))
                except tuple(NUMBERED) as error:
                    return Refused((_unknown(error, kwargs),))
                except DatabaseError as error:
                    if isinstance(error.__cause__, psycopg.DataError):
                        return Refused((_does_not_fit(error.__cause__),))
                    ours = getattr(error.__cause__, "sqlstate", None) == REFUSED_BY_DATABASE
                    if ours or isinstance(error.__cause__, psycopg.errors.CheckViolation):
                        return Refused((_from_database(error),))
                    if not isinstance(error.__cause__, PASSING):
                        raise
                    if attempt == ATTEMPTS:
                        return _gave_up(error)
            raise AssertionError("the last attempt returns")

        VERBS[name] = Verb(name, roles, run, again, field_word)
        return run

    return register


def _own_word(person: Person, name: str) -> Refusal:
    """Only the field's own words are entered by the desk for another; an order, a check or a giving never."""
    text = f"{person} can't do «{name}» in another person's name."
    way = "The desk enters what the field says; everything else is done by whoever answers for it."
    return Refusal("own_word", str(person), text, ROLE, way)


def _once(who: Who, name: str, service: Callable[[], Outcome]) -> Outcome:
    """One attempt in one transaction; whatever is not done leaves nothing behind."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL lock_timeout = '3s'")
        snapshot.hold()  # all of a verb looks at one network
        if earlier := _already(who, name):
            return earlier
        outcome = service()
        if not isinstance(outcome, Done):
            if earlier := _already(who, name):  # the same key at the same moment: told no because it is done
                return earlier
            transaction.set_rollback(True)
        return outcome


def _gave_up(error: DatabaseError) -> Outcome:
    if isinstance(error, IntegrityError):
        return Refused((_from_database(error),))
    return Stale("Somebody else is changing this just now. Look again, then decide.")


def _already(who: Who, name: str) -> Done | Refused | None:
    """What became of this key before; a key of another act or person is nobody's answer to this one."""
    entry = LogEntry.objects.filter(key=who.key).first() if who.key else None
    if entry is None:
        return None
    if (entry.verb, entry.by_id) == (name, who.by.pk):
        return Done(entry, repeated=True)
    text = f"The key {who.key} belongs to another act, entry {entry.number}. Nothing was changed."
    return Refused((Refusal("key_of_another", str(who.key), text, PICTURE, "Send it with a new key."),))


def role_refusal(person: Person, roles: tuple[str, ...]) -> Refusal:
    names = " or ".join(Role(role).label for role in roles)
    return Refusal(
        "role",
        str(person),
        f"{person} is not a {names}.",
        ROLE,
        f"Ask a {names} to do it under their own name.",
    )


def _unknown(error: ObjectDoesNotExist, given: Mapping[str, object]) -> Refusal:
    """What a verb was to be about is not there: a number mistyped, or made up."""
    name = next(name for kind, name in NUMBERED.items() if isinstance(error, kind))
    number = str(given.get(name, ""))
    return Refusal(
        "unknown",
        number,
        f"There is no {name.replace('_', ' ')} {number}.",
        PICTURE,
        "Read the number again.",
    )


def _does_not_fit(error: psycopg.DataError) -> Refusal:
    """A text or number that is larger than its column."""
    why = error.diag.message_primary or str(error)
    text = f"The board can't keep this as it is written: {why}."
    return Refusal("does_not_fit", "", text, LEGIBLE, "Say it in fewer words, or read the number again.")


def _from_database(error: DatabaseError) -> Refusal:
    """The database's own refusal, as a value. Our triggers speak in sentences; a constraint is named."""
    cause = error.__cause__
    diagnostic = cause.diag if isinstance(cause, psycopg.Error) else None
    code = (diagnostic and diagnostic.constraint_name) or "database"
    if getattr(cause, "sqlstate", None) == REFUSED_BY_DATABASE and diagnostic and diagnostic.message_primary:
        text = diagnostic.message_primary
    else:
        text = f"The database does not take this: it would break «{code}»."
    return Refusal(code, "", text, PICTURE, "Look again at how things stand, then decide.")


def lock_clearance(number: int) -> Clearance:
    """The clearance, its row locked until the transaction ends."""
    return Clearance.objects.select_for_update(no_key=True).select_related("job", "holder").get(pk=number)


def lock_with_told(number: int) -> Clearance:
    """The clearance, and every other whose customers may have to be told another hour because of it, locked
    in the order of their numbers.
    """
    told = Clearance.objects.exclude(telling=0).exclude(state__in=["released", "withdrawn"])
    for other in sorted({number, *told.values_list("pk", flat=True)}):
        lock_clearance(other)
    return lock_clearance(number)


def touch(clearance: Clearance, *, expected: int | None, **changes: object) -> Stale | None:
    """Write `changes` to the clearance and count its version up; `Stale` if somebody has changed it since
    `expected`.
    """
    rows = Clearance.objects.filter(pk=clearance.pk)
    if expected is not None:
        rows = rows.filter(version=expected)
    if not rows.update(version=F("version") + 1, **changes):
        return stale(clearance)
    clearance.refresh_from_db()
    return None


def stale(clearance: Clearance) -> Stale:
    last = clearance.entries.order_by("-number").first()
    seen = f" Last: {last.words} ({timezone.localtime(last.entered_at):%H:%M:%S})" if last else ""
    return Stale(f"Clearance {clearance.number} has changed since this page was read.{seen}")


def write(
    who: Who,
    verb: str,
    words: str,
    *,
    clearance: Clearance | None = None,
    ordered_at: datetime.datetime | None = None,
    done_at: datetime.datetime | None = None,
    irregular: str = "",
    **data: Any,
) -> Done:
    """Log what was just done and close the verb. A field fact (`done_at`) counts as reported when it reaches
    the board.
    """
    now = timezone.now()
    if who.phone:
        said = told(who.phone, verb, clearance, data)
        words, irregular = f"{words}{said.words}", f"{irregular} {said.irregular}".strip()
        data |= said.data
    transaction.on_commit(watch.look, robust=True)
    transaction.on_commit(flags.refresh, robust=True)
    return Done(
        log.append(
            verb=verb,
            words=words,
            by=who.by,
            speaking_for=who.speaking_for,
            how=who.how,
            key=who.key,
            entered_at=now,
            reported_at=now if done_at else None,
            clearance=clearance,
            ordered_at=ordered_at,
            done_at=done_at,
            irregular=irregular,
            data=data,
        )
    )
