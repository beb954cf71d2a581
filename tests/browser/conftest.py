"""The whole board as it runs, with browsers before it: web server, Celery worker and timer, Redis-protocol
server, PostgreSQL and a mail server, all real and all on this machine."""

import itertools
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

from config import mail
from config.servers import Child, free_port
from tests.cast import Cast
from tests.stages import load

expect.set_options(timeout=20_000)  # as long as it takes on a machine that does much else

ROOT = Path(__file__).resolve().parents[2]
Seat = Callable[..., Page]
Shot = Callable[..., None]
Faults = Callable[..., list[str]]
DESK = (1440, 900)
PHONE = (390, 844)


@dataclass
class Board:
    """The running board."""

    address: str
    worker: Child
    mail: Path

    def letters(self) -> list[dict[str, object]]:
        """The mail that was sent, newest first: to, subject, when, text."""
        return mail.letters(self.mail, at_most=1000)

    def forget_letters(self) -> None:
        """Those that the tests before have left."""
        for letter in (self.mail / "new").glob("*"):
            letter.unlink()

    def mailed(self, subject: str, count: int) -> list[dict[str, object]]:
        """The letters whose subject begins so, as soon as there are `count`: mail is not on any page, so it
        is looked for until a deadline."""
        deadline = time.monotonic() + 30
        while True:
            found = [letter for letter in self.letters() if str(letter["subject"]).startswith(subject)]
            if len(found) >= count:
                return found
            assert time.monotonic() < deadline, f"only {len(found)} of {count} letters «{subject}»"
            time.sleep(0.1)


@pytest.fixture(scope="session")
def board(web: str, app_url: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    """The board with a Celery worker, a timer and a mail server of its own."""
    folder = tmp_path_factory.mktemp("board")
    port = free_port()
    environment = os.environ | {
        "DATABASE_URL": app_url,
        "EMAIL_URL": f"smtp://127.0.0.1:{port}",
        "PUBLIC_URL": web,
    }
    catcher = Child(
        "Mail catcher",
        [sys.executable, "-m", "config.catcher", str(port), folder / "mail"],
        env=environment,
        log=folder / "mail.log",
    )
    worker = Child(
        "Worker",
        [
            sys.executable,
            "-m",
            "celery",
            "--app=config",
            "worker",
            "--concurrency=1",
            "--without-gossip",
            "--without-mingle",
            "--loglevel=INFO",
        ],
        env=environment,
        log=folder / "worker.log",
    )
    timer = Child(
        "Timer",
        [
            sys.executable, "-m", "celery", "--app=config", "beat", f"--schedule={folder / 'beat'}",
            "--pidfile=", "--loglevel=INFO",
        ],
        env=environment,
        log=folder / "timer.log",
    )  # fmt: skip
    try:
        yield Board(web, worker, folder / "mail")
    finally:
        timer.stop()
        worker.stop()
        catcher.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium; without a window of its own, if there is one, it takes a fifth less."""
    names = ("chromium-headless-shell", "chromium", "chromium-browser")
    found = next(filter(None, map(shutil.which, names)), None)
    assert found, "Chromium is not here: `make chromium`"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=found,
            args=[
                "--no-sandbox",
                # No page may need anything but the board. (A route that refuses would switch the cache off.)
                "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--no-first-run",
                # The map's WebGL without a graphics card. (Whole pages drawn that way take ten times longer.)
                "--disable-gpu",
                "--enable-unsafe-swiftshader",
            ],
        )
        yield chromium
        chromium.close()


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    """The demo's network and people, committed: the web server and the worker see them."""
    load()
    return Cast.present()


@pytest.fixture
def seat(browser: Browser, board: Board, transactional_db: None) -> Iterator[Callable[..., Page]]:
    """`seat(DESK)` or `seat(PHONE)`: a browser of its own for one person, which speaks with the board alone.
    At the end no page may have complained: of a script's error, or of something that the content policy kept
    out."""
    complaints: list[str] = []
    contexts = []

    def complain(message: ConsoleMessage) -> None:
        # A form is refused with a 4xx, and a signal is lost, on purpose: Chromium reports a failed load, htmx
        # an error of the answer or of the sending.
        on_purpose = (
            "Failed to load resource",
            "Response Status Error Code 4",
            "htmx:send",
            "htmx:afterRequest",
        )
        if message.type == "error" and not message.text.startswith(on_purpose):
            complaints.append(f"{message.text} ({message.location})")

    def take(size: tuple[int, int] = DESK, **options: object) -> Page:
        width, height = size
        context = browser.new_context(
            viewport={"width": width, "height": height},
            base_url=board.address,
            locale="en-US",
            timezone_id="America/New_York",
            has_touch=size == PHONE,
            **options,  # type: ignore[arg-type]
        )
        context.set_default_timeout(20_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", complain)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield take
    for context in contexts:
        context.close()
    assert not complaints


@pytest.fixture
def shot() -> Shot:
    """`shot(page, "desk")` leaves the picture 01-desk.png in the folder named by SHOTS, the next one with 02;
    without that variable, none. With `dark` a second one as it looks at night; `whole` takes what lies below
    the fold as well."""
    folder = os.environ.get("SHOTS")
    numbers = itertools.count(1)

    def take(page: Page, name: str, *, dark: bool = False, whole: bool = False) -> None:
        if not folder:
            return
        path = ROOT / folder / f"{next(numbers):02}-{name}.png"
        page.screenshot(path=path, full_page=whole)
        if dark:
            page.emulate_media(color_scheme="dark")
            page.screenshot(path=path.with_stem(f"{path.stem}-dark"), full_page=whole)
            page.emulate_media(color_scheme="light")

    return take


@pytest.fixture(scope="session")
def faults() -> Faults:
    """`faults(page)`: what axe-core finds against WCAG 2.2 A and AA on the page as it stands, one line
    each; `faults(page, rules)`: against these rules of it alone."""
    script = Axe().axe_script
    levels = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

    def find(page: Page, rules: Sequence[str] = ()) -> list[str]:
        only = {"type": "rule" if rules else "tag", "values": rules or levels}
        options = {"resultTypes": ["violations"], "runOnly": only}
        if not page.evaluate("'axe' in window"):  # half a megabyte: once a page, not once a size
            page.evaluate(script)
        found = page.evaluate("options => axe.run(options)", options)["violations"]
        return [
            f"{fault['id']}: {fault['help']}: {', '.join(str(node['target'][0]) for node in fault['nodes'])}"
            for fault in found
        ]

    return find
