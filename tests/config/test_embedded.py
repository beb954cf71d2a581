"""The servers out of wheels start, stop and refuse as they say."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def name() -> Iterator[str]:
    """A stack's name that no other test uses; its folder goes afterwards."""
    name = f"inner-{os.getpid()}"
    yield name
    shutil.rmtree(ROOT / "var" / name, ignore_errors=True)


def _embedded(name: str, *command: str) -> list[str]:
    return [sys.executable, "-m", "config.embedded", "exec", "--name", name, "--", *command]


def _servers(name: str) -> list[psutil.Process]:
    """PostgreSQL of this stack, told by its folder, and the Redis-protocol server, told by where it works."""
    folder = str(ROOT / "var" / name)
    found = []
    for process in psutil.process_iter():
        try:
            if process.cwd() == folder or f"{folder}/pg" in process.cmdline():
                found.append(process)
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue
    return found


def _until_gone(name: str) -> None:
    end = time.monotonic() + 20
    while left := _servers(name):
        assert time.monotonic() < end, left
        time.sleep(0.1)


def test_a_command_gets_its_servers_and_its_end_is_told(name: str) -> None:
    asks = (
        "import os, psycopg, redis, sys\n"
        "with psycopg.connect(os.environ['DATABASE_URL']) as c:\n"
        "    print(c.execute('SELECT current_user').fetchone()[0])\n"
        "print(redis.Redis.from_url(os.environ['REDIS_URL']).ping())\n"
        "sys.exit(7)\n"
    )
    ran = subprocess.run(
        _embedded(name, sys.executable, "-c", asks), cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.stdout.split() == ["board_app", "True"], ran.stderr
    assert ran.returncode == 7
    assert _servers(name) == []
    assert (ROOT / "var" / name / "secrets").stat().st_mode & 0o777 == 0o600


@pytest.mark.skipif(sys.platform != "linux", reason="prctl(PR_SET_PDEATHSIG) is Linux's")
def test_who_comes_second_is_told_and_a_kill_leaves_nothing(name: str) -> None:
    first = subprocess.Popen(
        _embedded(name, sys.executable, "-c", "print('here', flush=True); import time; time.sleep(60)"),
        cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert first.stdout
    try:
        assert first.stdout.readline() == "here\n"
        assert len(_servers(name)) >= 2
        second = subprocess.run(
            _embedded(name, "true"), cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert second.returncode == 1
        assert second.stderr == f"Another one is running on var/{name}/: stop that one first.\n"
        first.kill()
        _until_gone(name)
    finally:
        os.killpg(first.pid, signal.SIGKILL)
        first.wait()
        first.stdout.close()


def test_a_stop_is_passed_on(name: str) -> None:
    running = subprocess.Popen(
        _embedded(name, sys.executable, "-c", "print('here', flush=True); import time; time.sleep(60)"),
        cwd=ROOT, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    with running:
        assert running.stdout
        assert running.stdout.readline() == "here\n"
        running.terminate()
        assert running.wait(30) == 128 + signal.SIGTERM
    assert _servers(name) == []
