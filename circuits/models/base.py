"""What every table of the network has in common."""

from collections.abc import Iterable
from typing import TypeVar

from django.db import models
from django.db.models import F, Q


class NetworkRevision(models.Model):
    """One import, or one change as it was built. The newest is the network in use; `digest` is SHA-256 over
    the package's tables as they were handed in ("" where none was), `imported_by` the name of the person of
    the board who did it, if it was one."""

    imported_at = models.DateTimeField()
    digest = models.CharField(default="", blank=True)
    note = models.CharField(default="", blank=True)
    imported_by = models.CharField(default="", blank=True)

    def __str__(self) -> str:
        return f"network revision {self.pk}"


class RowVersion(models.Model):
    """How a row of the network stood until a revision changed it: written by a trigger of its table, never
    changed."""

    table = models.CharField()
    row = models.JSONField()
    row_id = models.CharField()
    until = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["table", "until"], name="circuits_rowversion_until")]

    def __str__(self) -> str:
        return f"{self.table} {self.row_id} until revision {self.until}"


M = TypeVar("M", bound="Row", covariant=True)


class CurrentManager(models.Manager[M]):
    """Rows of the network as it is now."""

    def get_queryset(self) -> models.QuerySet[M]:
        return super().get_queryset().filter(retired_in=None)


class Row(models.Model):
    """A row of the network, known for ever by the id that the utility gave it.

    An import never deletes a row: orders, tags and position reports of earlier years refer to it. It writes
    the revision that left the row out into `retired_in`. `objects` sees the network as it is now, `ever` all
    rows; a foreign key followed from history finds a retired row as well.
    """

    id = models.CharField(primary_key=True)
    retired_in = models.ForeignKey(
        NetworkRevision,
        models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="+",
        db_index=False,
    )
    # No foreign key: a COPY of a whole network would look each row's revision up. None: before there was more
    # than one revision to tell apart.
    added_in = models.BigIntegerField(null=True, blank=True, editable=False)

    objects = CurrentManager()
    ever = models.Manager()  # noqa: DJ012 (a manager, whatever its name)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.id


def one_of(name: str, field: str, words: Iterable[str], *, or_empty: bool = False) -> models.CheckConstraint:
    """A CHECK that the field holds one of the words of an enumeration."""
    allowed = [*words, ""] if or_empty else list(words)
    return models.CheckConstraint(name=name, condition=Q(**{f"{field}__in": allowed}))


def phase_letters(name: str, field: str = "phases", *, or_empty: bool = False) -> models.CheckConstraint:
    """A CHECK that the field is a subset of ABC in that order."""
    condition = Q(**{f"{field}__regex": "^A?B?C?$"})
    if not or_empty:
        condition &= ~Q(**{field: ""})
    return models.CheckConstraint(name=name, condition=condition)


def positive(name: str, field: str) -> models.CheckConstraint:
    """A CHECK that a quantity, where it is known, is above zero."""
    return models.CheckConstraint(name=name, condition=Q(**{f"{field}__gt": 0}))


def unlike_ends(name: str) -> models.CheckConstraint:
    """A CHECK that a branch joins two different nodes."""
    return models.CheckConstraint(name=name, condition=~Q(from_node=F("to_node")))
