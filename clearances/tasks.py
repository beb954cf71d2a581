"""What beat asks of the worker for the desk."""

from celery import shared_task

from . import flags, watch


@shared_task(name="clearances.tasks.check_flags")
def check_flags() -> int:
    """Once a minute, so that lateness and a broken proof are seen also when nobody reads a page."""
    watch.look()
    return flags.refresh()
