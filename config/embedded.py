"""The whole board on a bare machine, with nothing but the wheels in .venv.

`python -m config.embedded demo` starts everything with a made-up utility, until Ctrl-C.

`python -m config.embedded exec [--name NAME] -- COMMAND` starts PostgreSQL and the Redis-protocol server,
runs the command with all settings in its environment, stops the servers, and ends as the command did. With
`--offline` it starts no server: for tools that only read the settings.
"""

import argparse
import os
import signal
import subprocess
import sys
import time
import urllib.request
from mailbox import Maildir
from pathlib import Path
from types import FrameType

from config.servers import Child, Failed, Servers, claim, free_port

ROOT = Path(__file__).resolve().parent.parent


def settings(servers: Servers, *, web_port: int, mail_port: int) -> dict[str, str]:
    """The environment of a board on these servers: this process's own with all settings of `config.env` in
    it."""
    return os.environ | {
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": servers.database_url("board_app"),
        "OWNER_DATABASE_URL": servers.database_url("board_owner"),
        "ADMIN_DATABASE_URL": servers.database_url("postgres"),
        "REDIS_URL": servers.redis_url,
        "SECRET_KEY": servers.passwords["secret_key"],
        "ALLOWED_HOSTS": "127.0.0.1,localhost",
        "UTILITY_NAME": "Orrin Vale Municipal Light",
        "UTILITY_TIME_ZONE": "America/New_York",
        "EMAIL_URL": f"smtp://127.0.0.1:{mail_port}",
        "NOTICE_FROM": "Orrin Vale Municipal Light <outages@orrinvale.example>",
        "PUBLIC_URL": f"http://127.0.0.1:{web_port}",
        "PYTHONUNBUFFERED": "1",
    }


class Demo:
    """Everything that `make demo` runs, in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.servers = Servers(folder, lasting=True)
        self.children: list[Child] = []
        self.web_port = free_port(int(os.environ.get("PORT", "8000")))
        self.mail_port = free_port()
        self.mail = folder / "mail"
        Maildir(self.mail)
        self.env = settings(self.servers, web_port=self.web_port, mail_port=self.mail_port)
        self.env["DEMO"] = str(self.mail)
        self.address = self.env["PUBLIC_URL"]
        self.logins = ""

    def start(self) -> None:
        """Start all in their order; the demo's utility and people are loaded once."""
        self.servers.start()
        loaded = self.folder / "loaded"
        first = not loaded.exists()
        self._manage("migrate", "--no-input", DATABASE_URL=self.env["OWNER_DATABASE_URL"])
        if first:
            network = str(self.folder / "network")
            self._manage("build_demo", network)
            self._manage("import_network", network)
            self._manage("load_demo")
            loaded.touch()
        self._run("Mail catcher", "-m", "config.catcher", str(self.mail_port), str(self.mail))
        celery = ["-m", "celery", "--app", "config"]
        alone = ["--concurrency=1", "--without-gossip", "--without-mingle"]
        self._run("Worker", *celery, "worker", *alone, "--loglevel=INFO")
        schedule = str(self.folder / "beat")
        self._run("Beat", *celery, "beat", f"--schedule={schedule}", "--pidfile=", "--loglevel=INFO")
        web = self._run(
            "Web server", "-m", "uvicorn", "config.asgi:application", "--host=127.0.0.1",
            f"--port={self.web_port}", "--timeout-graceful-shutdown=2", "--no-access-log",
        )  # fmt: skip
        # Asked while the web server starts.
        self.logins = self._manage("load_demo", "--print-logins")
        web.wait_until(lambda: urllib.request.urlopen(f"{self.address}/health", timeout=5).close())

    def watch(self) -> None:
        """Raise `Failed` when any of them has ended."""
        while True:
            for child in [*self.servers.children, *self.children]:
                child.check()
            time.sleep(0.3)

    def stop(self) -> None:
        """Stop all, the last started first, so that none loses what it leans on."""
        for child in reversed(self.children):
            child.stop()
        self.servers.stop()

    def _run(self, name: str, *arguments: str) -> Child:
        log = self.folder / f"{name.split()[0].lower()}.log"
        child = Child(name, [sys.executable, *arguments], log=log, env=self.env)
        self.children.append(child)
        return child

    def _manage(self, *arguments: str, **env: str) -> str:
        command = [sys.executable, "manage.py", *arguments]
        done = subprocess.run(command, env=self.env | env, capture_output=True, text=True, check=False)
        if done.returncode:
            last = "\n".join((done.stdout + done.stderr).splitlines()[-15:])
            raise Failed(f"manage.py {' '.join(arguments)} failed:\n{last}")
        return done.stdout


def demo(folder: Path) -> None:
    """Start the demo, say where it is, and keep it up until a signal or until one of its parts ends."""
    board = Demo(folder)
    try:
        print("Starting the board.", flush=True)
        board.start()
        print(f"\n{board.logins}\n")
        print(f"The board is at {board.address}/ and its customers' mail at {board.address}/mail/")
        print(f"Ctrl-C stops it. Its data and logs are in {folder.relative_to(ROOT)}/.", flush=True)
        board.watch()
    finally:
        _ignore_signals()
        board.stop()


def execute(folder: Path, command: list[str], *, offline: bool) -> int:
    """Run `command` beside servers of its own (or none); its exit status."""
    servers = Servers(folder, lasting=False)
    try:
        if not offline:
            servers.start()
        # Port 9 is "discard": nobody listens there, so no test sends mail unseen.
        env = settings(servers, web_port=free_port(), mail_port=9)
        running = subprocess.Popen(command, env=env)
        try:
            ended = running.wait()
        except KeyboardInterrupt:
            # Ctrl-C has reached the command as well, which may want to say something yet.
            _ignore_signals()
            running.terminate()
            ended = running.wait()
        # As a shell tells it: 128 and the signal's number.
        return ended if ended >= 0 else 128 - ended
    finally:
        _ignore_signals()
        servers.stop()


def _interrupt(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _ignore_signals() -> None:
    for number in [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]:
        signal.signal(number, signal.SIG_IGN)


def main() -> int:
    """The command line; the exit status."""
    parser = argparse.ArgumentParser(prog="python -m config.embedded", description=__doc__)
    commands = parser.add_subparsers(dest="what", required=True)
    commands.add_parser("demo")
    run = commands.add_parser("exec")
    run.add_argument("--name", default="test")
    run.add_argument("--offline", action="store_true")
    run.add_argument("command", nargs="+")
    wanted = parser.parse_args()

    name = "demo" if wanted.what == "demo" else wanted.name
    folder = ROOT / "var" / name
    os.chdir(ROOT)
    held = claim(folder)
    if held is None:
        print(f"Another one is running on {folder.relative_to(ROOT)}/: stop that one first.", file=sys.stderr)
        return 1
    for number in [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]:
        signal.signal(number, _interrupt)
    try:
        if wanted.what == "demo":
            demo(folder)
            return 0
        return execute(folder, wanted.command, offline=wanted.offline)
    except KeyboardInterrupt:
        return 130 if wanted.what == "exec" else 0
    except Failed as failed:
        print(failed, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
