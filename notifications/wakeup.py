"""The hint to the workers that something waits. It may be lost: every worker also sweeps by itself."""

import logging
import os
import threading

from celery import current_app

log = logging.getLogger(__name__)

_wanted = threading.Event()
_start = threading.Lock()
_started_in = 0  # process id: a forked child has no thread of its own yet


def hint() -> None:
    """Ask, some time soon, for a sweep. Returns at once and never fails; many calls become one message.

    A thread of its own talks to Redis, so that a request never waits for it, be it slow, full or gone.
    """
    global _started_in
    with _start:
        if _started_in != os.getpid():
            threading.Thread(target=_publish, name="notice-hints", daemon=True).start()
            _started_in = os.getpid()
    _wanted.set()


def _publish() -> None:
    while True:
        _wanted.wait()
        _wanted.clear()
        try:
            current_app.send_task("notifications.tasks.sweep", retry=False, ignore_result=True)
        except Exception as error:  # noqa: BLE001, whatever it is, the sweep makes up for it
            log.warning("No hint sent, the sweep will find the notices: %s", error)
