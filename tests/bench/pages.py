"""Pages as one user gets them from the board's own web server, with one job under way."""

import http.client
import os
import statistics
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import django
from django.db import connections

from config.servers import Child, free_port

from .measure import Row

TIMES = 60


@contextmanager
def web() -> Iterator[int]:
    """The board's web server; its port."""
    port = free_port()
    command = [
        sys.executable,
        "-m",
        "uvicorn",
        "config.asgi:application",
        f"--port={port}",
        "--no-access-log",
    ]
    child = Child("Web server", command, log=Path("build/bench-web.log"), env=dict(os.environ))
    try:
        child.wait_until(lambda: get(port, "/health"))
        yield port
    finally:
        child.stop()


def get(port: int, path: str, cookie: str = "") -> bytes:
    """The body of a page; OSError if there is no answer, ValueError if it is not a page."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", path, headers={"Cookie": cookie})
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    if answer.status != 200:
        raise ValueError(f"{path}: {answer.status}")
    return body


def times(port: int, path: str, cookie: str) -> list[float]:
    """Milliseconds of each of some requests, after a few that don't count."""
    taken = []
    for number in range(TIMES + 5):
        start = time.perf_counter()
        get(port, path, cookie)
        if number >= 5:
            taken.append((time.perf_counter() - start) * 1000)
    return taken


def rows(on: str) -> Iterator[Row]:
    """What 95 of 100 requests stay below. The network must be in use, and nothing else on the board."""
    django.setup()
    from django.db.models import Count
    from django.test import Client

    from circuits.models import Circuit
    from clearances import demo
    from tests.cast import Cast

    demo.load()
    cast = Cast.present()
    cast.job("working")
    client = Client()
    client.force_login(cast.dana)
    cookie = "; ".join(f"{name}={morsel.value}" for name, morsel in client.cookies.items())
    counted = Circuit.objects.annotate(count=Count("devices")).order_by("-count")
    number, devices = counted.values_list("pk", "count")[0]
    connections.close_all()
    with web() as port:
        floor = _95(times(port, "/health", cookie))
        for name, path, target in (
            ("the desk", "/desk/", 150),
            (f"the one-line of {devices} devices", f"/desk/circuits/{number}/", 1000),
        ):
            took = _95(times(port, path, cookie))
            yield Row(name, on, "ms", took, "/health", floor, f"{target} ms", took <= target)


def _95(taken: list[float]) -> float:
    return statistics.quantiles(taken, n=20)[-1]
