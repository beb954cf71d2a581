"""The worker's and the clock's way in: `celery --app config worker`, `celery --app config beat`.

Redis carries wake-ups only: PostgreSQL holds every promise, so no result is kept and a lost message loses
nothing.
"""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("board", set_as_current=True)
app.config_from_object("django.conf:settings", namespace="CELERY")
# Threads of the web server find this app, too, and not Celery's own default.
app.set_default()
app.autodiscover_tasks(["circuits", "notifications", "clearances"])
# Every worker also looks by itself for what waits, with or without Redis.
app.steps["worker"].add("notifications.sweeper.Sweeper")
