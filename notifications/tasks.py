"""What Celery runs. The hint and beat's tick travel by Redis; nothing that may not be lost does."""

from celery import shared_task
from django.conf import settings

from notifications import delivery


@shared_task(name="notifications.tasks.sweep", ignore_result=True)
def sweep() -> None:
    """Send what waits: the hint after a commit. Without it a notice goes when a worker's timer finds it."""
    delivery.sweep(seconds=settings.NOTICE_SWEEP_SECONDS)


@shared_task(name="notifications.tasks.heartbeat", ignore_result=True)
def heartbeat() -> None:
    """Sent by beat, run by a worker: note that beat, Redis and a worker work together."""
    delivery.beat("beat")
