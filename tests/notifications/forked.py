"""Celery for the kill tests, as `python -m celery` runs it: a real process group, forked from a process that
has the libraries loaded (which takes 1.3 s of a processor) and nothing of the board: that it loads itself, by
the settings in its environment."""

import importlib
import multiprocessing
import os
import sys
from multiprocessing.process import BaseProcess
from pathlib import Path

_forking = multiprocessing.get_context("forkserver")
_forking.set_forkserver_preload(
    [
        "celery.apps.beat",
        "celery.apps.worker",
        "celery.bin.celery",
        "celery.concurrency.prefork",
        "celery.fixups.django",
        "celery.worker.consumer",
        "django.db.backends.postgresql.base",
        "django.forms",
        "django.test",
        "kombu.transport.redis",
        "psycopg_pool",
        "rest_framework.serializers",
        "scipy.sparse.csgraph",
    ]
)


def celery(log: Path, env: dict[str, str], *arguments: str) -> BaseProcess:
    """Start Celery with these arguments in a process group of its own, named by its `pid`."""
    process = _forking.Process(target=_run, args=(log, os.environ | env, arguments))
    process.start()
    return process


def _run(log: Path, env: dict[str, str], arguments: tuple[str, ...]) -> None:
    os.setsid()
    os.environ.clear()
    os.environ.update(env)
    with log.open("ab") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    sys.argv = ["celery", *arguments]
    importlib.import_module("celery.__main__").main()
