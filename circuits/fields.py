"""A column type that Django does not have."""

from typing import Any

from django.core import checks
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper


class Quantity(models.DecimalField):  # type: ignore[type-arg]  # generic in the stubs only
    """A number kept exactly as it was given: PostgreSQL's `numeric` with neither precision nor scale."""

    def db_type(self, connection: BaseDatabaseWrapper) -> str:
        return "numeric"

    def check(self, **kwargs: Any) -> list[checks.CheckMessage]:
        # DecimalField's own check demands the digits that this field does not have.
        return super(models.DecimalField, self).check(**kwargs)
