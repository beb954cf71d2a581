"""People and what they may do: roles are what the board asks of a person, a qualification is what the utility
has granted.
"""

import datetime

from django.contrib.auth.models import AbstractUser
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models.functions import Now


class Role(models.TextChoices):
    OPERATOR = "operator", "system operator"
    CHECKER = "checker", "checker / line supervisor"
    FOREMAN = "foreman", "crew foreman"
    CREW = "crew", "crew member"
    SERVICE = "service", "customer service"
    ENGINEER = "engineer", "network engineer"
    ADMINISTRATOR = "administrator", "administrator"


class Person(AbstractUser):
    """Somebody with a log-in. Several roles are possible; holding a clearance needs a qualification with an
    expiry besides.
    """

    roles = ArrayField(models.CharField(max_length=16, choices=Role), default=list, blank=True)
    employer = models.CharField(max_length=80, blank=True)
    contractor = models.BooleanField(
        default=False, help_text="the employer is another than the utility, or is not on record"
    )
    phone = models.CharField(max_length=32, blank=True)
    radio = models.CharField(max_length=32, blank=True)
    may_hold_until = models.DateField(
        null=True,
        blank=True,
        help_text="last day on which this person is qualified to hold a clearance; empty = not qualified",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="person_roles_known", condition=models.Q(roles__contained_by=list(Role.values))
            ),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def has_role(self, *roles: str) -> bool:
        return self.is_active and any(role in self.roles for role in roles)

    def may_hold_on(self, day: datetime.date) -> bool:
        return self.has_role(Role.FOREMAN) and self.may_hold_until is not None and day <= self.may_hold_until


class FailedSignIn(models.Model):
    """A wrong password, kept for as long as it counts (`clearances.signing_in`)."""

    name = models.CharField(max_length=150)
    address = models.CharField(max_length=64)
    at = models.DateTimeField(db_default=Now())

    class Meta:
        indexes = [models.Index(fields=["address", "name"], name="failed_sign_in")]

    def __str__(self) -> str:
        return f"{self.name} from {self.address}"
