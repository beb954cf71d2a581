"""The timer in every worker that needs nothing but PostgreSQL."""

import logging
import threading
import time
from typing import Any

from celery import bootsteps
from django.conf import settings
from django.db import connections

from notifications import delivery

log = logging.getLogger(__name__)


class Sweeper(bootsteps.StartStopStep):
    """A Celery boot step: a thread of the worker's main process sweeps every NOTICE_SWEEP_SECONDS.

    It starts after the pool, so that no child is forked with it, and before the consumer, which waits for
    Redis: a worker started while Redis is gone sweeps all the same. `config.celery` adds it to the worker.
    """

    requires = ("celery.worker.components:Pool",)

    def __init__(self, parent: Any, **options: Any) -> None:
        super().__init__(parent, **options)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="notice-sweeper", daemon=True)

    def start(self, parent: Any) -> None:
        self._thread.start()

    def stop(self, parent: Any) -> None:
        """Let the notice in hand be settled; nothing is claimed after this."""
        self._stopping.set()
        self._thread.join(timeout=settings.NOTICE_LEASE_SECONDS)

    def _run(self) -> None:
        period = settings.NOTICE_SWEEP_SECONDS
        while not self._stopping.is_set():
            began = time.monotonic()
            try:
                delivery.beat("worker")
                delivery.sweep(seconds=period, stopping=self._stopping.is_set)
            except Exception:  # PostgreSQL may be away for a moment; the next round tries again
                log.exception("The sweep for waiting notices failed")
            finally:
                connections.close_all()
            self._stopping.wait(max(0.0, period - (time.monotonic() - began)))
