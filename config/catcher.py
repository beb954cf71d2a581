"""The demo's mail server: `python -m config.catcher PORT FOLDER` takes mail on this machine and keeps it as a
Maildir."""

import asyncio
import signal
import sys
from pathlib import Path

from aiosmtpd.handlers import Mailbox
from aiosmtpd.smtp import SMTP


async def serve(port: int, folder: Path) -> None:
    """Take mail on the loopback address until SIGTERM or SIGINT."""
    loop = asyncio.get_running_loop()
    stop = asyncio.Event()
    for signal_number in [signal.SIGTERM, signal.SIGINT]:
        loop.add_signal_handler(signal_number, stop.set)
    handler = Mailbox(folder)
    server = await loop.create_server(lambda: SMTP(handler, enable_SMTPUTF8=True), "127.0.0.1", port)
    async with server:
        await stop.wait()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), Path(sys.argv[2])))
