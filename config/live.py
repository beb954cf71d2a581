"""Live pages: a stream that only says "look again".

PostgreSQL's NOTIFY on the channel `board` (sent by triggers, so only when a change has been committed)
reaches one LISTEN connection per web process, which pokes every stream of that process. A stream carries no
data: the page then asks for what it shows by an ordinary GET, with its permissions. Events:

- `look`: something changed, or may have (sent at the start of a stream and after a gap in the listening);
- `heard`: nothing changed; sent every 15 s and only while the LISTEN connection stands, so that a page that
  got neither for 45 s knows that it may be old.

No database connection is held by a stream. A stream ends after ten minutes; the browser comes again by itself
and is asked anew who it is.
"""

import asyncio
import logging
import time
from collections.abc import AsyncIterator
from weakref import WeakKeyDictionary

import psycopg
from asgiref.sync import sync_to_async
from django.db import connections
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.views.decorators.http import require_GET

CHANNEL = "board"
KEEP_ALIVE_S = 15.0
STREAM_S = 600.0
RETRY_S = 2.0

_logger = logging.getLogger(__name__)


class Listener:
    """The one LISTEN connection of an event loop, and the streams that it pokes."""

    def __init__(self) -> None:
        self.hearing = False
        self._streams: set[asyncio.Event] = set()
        self._task: asyncio.Task[None] | None = None

    def join(self) -> asyncio.Event:
        """A new stream's poke. Starts to listen with the first stream."""
        poke = asyncio.Event()
        self._streams.add(poke)
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._listen())
        return poke

    def leave(self, poke: asyncio.Event) -> None:
        """Forget a stream; with the last one the listening ends."""
        self._streams.discard(poke)
        if not self._streams and self._task is not None:
            self._task.cancel()
            self._task = None
            self.hearing = False

    def _poke_all(self) -> None:
        for poke in self._streams:
            poke.set()

    async def _listen(self) -> None:
        while True:
            try:
                await self._hear()
            except (psycopg.Error, OSError) as error:
                _logger.warning("not hearing changes, trying again: %s", error)
            self.hearing = False
            await asyncio.sleep(RETRY_S)

    async def _hear(self) -> None:
        told = connections["default"].settings_dict
        connection = await psycopg.AsyncConnection.connect(
            host=told["HOST"],
            port=told["PORT"],
            user=told["USER"],
            password=told["PASSWORD"],
            dbname=told["NAME"],
            connect_timeout=5,
            application_name="board live",
            # A dead peer is noticed within a minute, else the pages would go on saying that they hear.
            keepalives_idle=20,
            keepalives_interval=5,
            keepalives_count=3,
            autocommit=True,
        )
        async with connection:
            await connection.execute(f"LISTEN {CHANNEL}")
            self.hearing = True
            self._poke_all()
            async for _ in connection.notifies():
                self._poke_all()


_listeners: WeakKeyDictionary[asyncio.AbstractEventLoop, Listener] = WeakKeyDictionary()


def listener() -> Listener:
    """The running event loop's listener."""
    return _listeners.setdefault(asyncio.get_running_loop(), Listener())


async def pokes(ears: Listener) -> AsyncIterator[bytes]:
    """The text of one stream (the server-sent events of the HTML standard, section 9.2)."""
    poke = ears.join()
    end = time.monotonic() + STREAM_S
    try:
        yield b"retry: 3000\nevent: look\ndata:\n\n"
        while time.monotonic() < end:
            try:
                await asyncio.wait_for(poke.wait(), KEEP_ALIVE_S)
            except TimeoutError:
                yield b"event: heard\ndata:\n\n" if ears.hearing else b": not hearing changes\n\n"
                continue
            poke.clear()
            yield b"event: look\ndata:\n\n"
    finally:
        ears.leave(poke)


@require_GET
async def stream(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    """GET /live/: the stream, for anyone who is signed in."""
    person = await request.auser()
    # Now, and not when the stream ends: asking who it is took a connection from the pool.
    await sync_to_async(connections.close_all)()
    if not person.is_authenticated:
        return HttpResponse(status=401)
    return StreamingHttpResponse(
        pokes(listener()),
        content_type="text/event-stream",
        # The second is for proxies that would gather the answer before passing it on.
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )
