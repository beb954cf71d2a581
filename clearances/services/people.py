"""Who may sign in, with which roles, and until when somebody may hold a clearance."""

import datetime
from collections.abc import Iterator, Sequence

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from rest_framework.authtoken.models import Token

from ..facts import OUT
from ..models import Clearance, Person, Role
from ..rules.clauses import ONE_IN_CHARGE, PEOPLE
from ..rules.refusal import Refusal
from .verb import Outcome, Refused, Who, verb, write


@verb(Role.ADMINISTRATOR, again=True)
def save_person(
    who: Who,
    *,
    person: str,
    first_name: str,
    last_name: str,
    roles: Sequence[str],
    employer: str = "",
    phone: str = "",
    radio: str = "",
    may_hold_until: datetime.date | None = None,
    active: bool = True,
    new_password: str = "",
) -> Outcome:
    """Enter the person with this log-in name, or change all that is known of them; nobody is ever deleted. A
    new password, and no longer being active, end their tokens and sessions.
    """
    # Locked together, so that two administrators can't each take the other's role.
    administrators = set(
        Person.objects.select_for_update()
        .filter(roles__contains=[Role.ADMINISTRATOR], is_active=True)
        .values_list("pk", flat=True)
    )
    row = Person.objects.select_for_update().filter(username=person).first() or Person(username=person)
    new, was = row.pk is None, str(row)
    row.first_name, row.last_name = first_name.strip(), last_name.strip()
    row.roles = list(dict.fromkeys(roles))
    row.employer, row.phone, row.radio = employer, phone, radio
    row.contractor = employer.strip() != settings.UTILITY_NAME
    row.may_hold_until, row.is_active = may_hold_until, active
    refusals = (
        *_wrong_words(row, new=new, password=new_password),
        *_same_name(row),
        *_last_administrator(row, administrators),
        *(() if new else _still_holding(row, was)),
    )
    if refusals:
        return Refused(refusals)
    if new_password:
        row.set_password(new_password)
    row.save()
    if new_password or not active:
        Token.objects.filter(user=row).delete()
    may_hold = f"may hold clearances until {may_hold_until:%d %b %Y}" if may_hold_until else ""
    parts = (
        ", ".join(Role(role).label for role in row.roles) or "no role",
        may_hold,
        "counts as a contractor" if may_hold and row.contractor else "",
        "new password" if new_password else "",
        "" if active else "no longer signs in",
    )
    words = f"{who.actor} {'enters' if new else 'changes'} {row} ({person}): "
    return write(who, "save_person", words + "; ".join(part for part in parts if part) + ".", person=row.pk)


def _refusal(code: str, row: Person, text: str, way: str) -> Refusal:
    return Refusal(code, row.username, text, PEOPLE, way)


def _wrong_words(row: Person, *, new: bool, password: str) -> Iterator[Refusal]:
    if not (row.first_name and row.last_name):
        yield _refusal("no_name", row, "A person has a first and a last name.", "Write both.")
    try:
        row.full_clean(exclude=["password"], validate_unique=False, validate_constraints=False)
        if password:
            validate_password(password, row)
    except ValidationError as error:
        yield _refusal("not_fit", row, " ".join(error.messages), "Write it otherwise.")
    if new and not password:
        text = f"{row} has no password yet, so could not sign in."
        yield _refusal("no_password", row, text, "Give one; the person changes it with you.")


def _same_name(row: Person) -> Iterator[Refusal]:
    """Clearances are given, and people signed on, by name (common practice: two of one name have been mixed
    up)."""
    same = Person.objects.filter(
        first_name__iexact=row.first_name, last_name__iexact=row.last_name, is_active=True
    )
    if row.is_active and (other := same.exclude(pk=row.pk).first()):
        text = f"There is a {other} already, who signs in as {other.username}."
        yield _refusal("same_name", row, text, "Add what tells them apart, such as a middle initial.")


def _last_administrator(row: Person, administrators: set[int]) -> Iterator[Refusal]:
    stays = row.is_active and Role.ADMINISTRATOR in row.roles
    if administrators == {row.pk} and not stays:
        text = f"{row} is the last administrator."
        yield _refusal("last_administrator", row, text, "Make somebody else administrator first.")


def _still_holding(row: Person, was: str) -> Iterator[Refusal]:
    """Nobody but the holder releases, so the holder stays who they are as long as a clearance is out."""
    same = str(row) == was and row.is_active and Role.FOREMAN in row.roles
    out = Clearance.objects.filter(holder=row, state__in=OUT).first()
    if out and not same:
        text = f"{was} holds clearance {out.pk}, which is {out.get_state_display()}."
        way = f"Change the name, the role or the log-in after {was} has released it."
        yield Refusal("still_holding", str(out.pk), text, ONE_IN_CHARGE, way)
