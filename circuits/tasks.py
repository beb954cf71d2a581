"""What Celery runs for the network: packages that people have handed in."""

from celery import shared_task

from circuits import intake


# A large network takes longer than a notice may; the limits stay below the broker's visibility timeout.
@shared_task(name=intake.TASK, ignore_result=True, soft_time_limit=270, time_limit=290)
def take_in() -> None:
    """Check or import what waits: the hint after a commit, and beat once a minute, for a lost hint."""
    intake.take_in()
