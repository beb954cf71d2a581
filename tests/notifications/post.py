"""A real mail server on the loopback address that can be told to misbehave at a stage of a conversation.

The stages in their order: `greeting` (connected, not a word yet), `mail`, `rcpt`, `data` (asked, not yet
granted), `text` (granted, the message still to come), `dot` (the whole message is here, no answer yet).
"""

import asyncio
import queue
import threading
from email.message import EmailMessage
from email.parser import BytesParser
from email.policy import default
from types import TracebackType
from typing import AnyStr, Self

from aiosmtpd.smtp import SMTP, Envelope, Session

from config.servers import free_port

DROP = "drop"  # cut the connection
STALL = "stall"  # say nothing until `release`


class Post:
    """`with Post(rcpt="451 later") as post:` serves until the end of the block.

    A behaviour is DROP, STALL or an answer. `letters` holds every message whose last dot the server has seen,
    whatever it answered; `raw` the same as bytes.
    """

    def __init__(self, at_port: int = 0, /, **behaviour: str) -> None:
        self.port = at_port or free_port()
        self.behaviour = behaviour
        self.letters: list[EmailMessage] = []
        self.raw: list[bytes] = []
        self.recipients: list[str] = []
        self.reached: queue.Queue[str] = queue.Queue()
        self.lines: list[asyncio.Transport] = []
        self._loop = asyncio.new_event_loop()
        self._released = asyncio.Event()
        self._thread = threading.Thread(target=self._loop.run_forever, name="post")

    @property
    def url(self) -> str:
        """As in the setting EMAIL_URL."""
        return f"smtp://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        self._thread.start()
        make = self._loop.create_server(lambda: _Server(self), "127.0.0.1", self.port)
        self._server = asyncio.run_coroutine_threadsafe(make, self._loop).result(10)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _: BaseException | None, __: TracebackType | None
    ) -> None:
        asyncio.run_coroutine_threadsafe(self._close(), self._loop).result(10)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()

    async def _close(self) -> None:
        self._server.close()
        talks = asyncio.all_tasks() - {asyncio.current_task()}
        for talk in talks:
            talk.cancel()
        await asyncio.gather(*talks, return_exceptions=True)
        for line in self.lines:
            line.abort()
        await asyncio.sleep(0.01)

    def release(self) -> None:
        """Let every stalled conversation go on, and stall none any more."""
        self.behaviour = {}
        self._loop.call_soon_threadsafe(self._released.set)

    def wait_for(self, stage: str, *, seconds: float = 60) -> None:
        """Return as soon as a conversation has come to `stage`."""
        while self.reached.get(timeout=seconds) != stage:
            pass

    async def at(self, stage: str, server: SMTP) -> str | None:
        """What to answer at this stage instead of going on; None: go on."""
        self.reached.put(stage)
        behaviour = self.behaviour.get(stage)
        if behaviour == STALL:
            await self._released.wait()
            return None
        if behaviour == DROP:
            assert isinstance(server.transport, asyncio.Transport)
            server.transport.abort()
        return behaviour

    async def handle_MAIL(  # noqa: N802
        self, server: SMTP, _: Session, envelope: Envelope, sender: str, __: list[str]
    ) -> str:
        envelope.mail_from = sender
        return await self.at("mail", server) or "250 OK"

    async def handle_RCPT(self, server: SMTP, _: Session, envelope: Envelope, to: str, __: list[str]) -> str:  # noqa: N802
        envelope.rcpt_tos.append(to)
        return await self.at("rcpt", server) or "250 OK"

    async def handle_DATA(self, server: SMTP, _: Session, envelope: Envelope) -> str:  # noqa: N802
        assert isinstance(envelope.original_content, bytes)
        self.raw.append(envelope.original_content)
        self.letters.append(BytesParser(EmailMessage, policy=default).parsebytes(envelope.original_content))
        self.recipients += envelope.rcpt_tos
        return await self.at("dot", server) or "250 taken as 4711"


class _Server(SMTP):
    def __init__(self, post: Post) -> None:
        self.post = post
        super().__init__(post, hostname="mail.example", ident="test")

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self.post.lines.append(transport)
        super().connection_made(transport)

    async def _handle_client(self) -> None:
        if answer := await self.post.at("greeting", self):
            await self.push(answer)
            self.post.lines[-1].close()
            return
        await super()._handle_client()

    async def smtp_DATA(self, arg: str) -> None:  # noqa: N802
        if answer := await self.post.at("data", self):
            await self.push(answer)
            return
        await super().smtp_DATA(arg)

    async def push(self, status: AnyStr) -> None:
        await super().push(status)
        if str(status).startswith("354"):
            await self.post.at("text", self)
