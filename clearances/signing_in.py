"""Signing in, and being asked again: a password may be guessed a few times and no more.

Wrong tries are counted in PostgreSQL, so for every web process alike, by name and address together: whoever
tries a name from elsewhere does not lock its owner out. An address as a whole has a larger number of tries.
"""

import datetime
from typing import Any

from django.contrib.auth import authenticate
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest
from django.utils import timezone

from .models import FailedSignIn, Person

WITHIN = datetime.timedelta(minutes=15)
TRIES = 10  # for one name from one address
TRIES_OF_ADDRESS = 100
WAIT = "After ten wrong tries wait a quarter of an hour."


class Backend(ModelBackend):
    """Django's own, which asks nothing more once too many tries were wrong."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **kwargs: Any,
    ) -> Person | None:
        address = request.META.get("REMOTE_ADDR", "") if request else ""
        name = (username or "").casefold()[:150]
        since = timezone.now() - WITHIN
        FailedSignIn.objects.filter(at__lt=since).delete()
        here = FailedSignIn.objects.filter(address=address)
        if here.filter(name=name).count() >= TRIES or here.count() >= TRIES_OF_ADDRESS:
            return None
        person = super().authenticate(request, username, password, **kwargs)
        if not isinstance(person, Person):
            FailedSignIn.objects.create(name=name, address=address)
            return None
        here.filter(name=name).delete()
        return person


def is_password_of(person: Person, typed: str, request: HttpRequest) -> bool:
    """Whether this is the person's own password; a wrong one counts as a wrong try to sign in."""
    return authenticate(request, username=person.username, password=typed) == person
