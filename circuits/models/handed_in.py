"""Network packages that people have handed in."""

from django.conf import settings
from django.db import models

from circuits.models.base import NetworkRevision, one_of


class State(models.TextChoices):
    """Of a package; what its page says of it."""

    WAITING = "waiting", "waits to be checked"
    CHECKED = "checked", "checked"
    WANTED = "wanted", "waits to be imported"
    IMPORTED = "imported", "imported"


class HandedIn(models.Model):
    """A package from the moment somebody hands it in until it is taken back, or for a day after it.

    A worker takes what is waiting to be checked or wanted as the network in use, and leaves it checked or
    imported; `result` is what it found (`circuits.findings`), on the revision `checked_on` (0: not to be
    decided on). The zip file itself is kept here: any web process takes it in, any worker finds it.
    """

    name = models.CharField()
    content = models.BinaryField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    handed_in_at = models.DateTimeField()
    state = models.CharField(choices=State, default=State.WAITING)
    attempts = models.IntegerField(default=0)
    progress = models.CharField(default="", blank=True)
    note = models.CharField(default="", blank=True)
    result = models.JSONField(default=dict, blank=True)
    checked_on = models.BigIntegerField(default=0)
    revision = models.ForeignKey(NetworkRevision, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [one_of("circuits_handedin_state", "state", State.values)]

    def __str__(self) -> str:
        return self.name
