"""The settings of the workers that the kill tests start: the board's own, only quicker."""

import os

from config.settings import *  # noqa: F403 - that is what it is

NOTICE_STILL_TRUE = "tests.notifications.truth.still_true"
NOTICE_LEASE_SECONDS = 30
NOTICE_SWEEP_SECONDS = float(os.environ.get("SWEEP", "0.5"))  # type: ignore[assignment]
CELERY_BEAT_SCHEDULE = {"heartbeat": {"task": "notifications.tasks.heartbeat", "schedule": 0.5}}
