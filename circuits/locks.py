"""What happens one after the other, whichever process does it."""

from django.db import connection


def one_after_the_other(lock: int) -> None:
    """Wait until nobody else holds this lock (a number of the caller's own), and hold it to the end of the
    transaction: of two at the same moment the second sees what the first has done."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [lock])
