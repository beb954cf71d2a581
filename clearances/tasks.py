"""What beat asks of the worker for the desk."""

from celery import shared_task

from . import flags


@shared_task(name="clearances.tasks.check_flags")
def check_flags() -> int:
    """Once a minute, so that lateness is remembered also when nobody reads a page."""
    return flags.refresh()
