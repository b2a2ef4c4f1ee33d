"""A kernel whose page is gone is ended; one whose page is open is kept, however idle."""

from __future__ import annotations

import asyncio
import re
import signal
from pathlib import Path

from tornado.httpclient import HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

from tests.opening.served import Opened, eventually, started

PROGRAM = """
import sys
from leakdx.opening.asked import Asked, Culling
from leakdx.opening.run import opened
sys.exit(opened(Asked(page=True, browser=False, culling=Culling(after_s=8, every_s=1))))
"""


def shown_kernel(opened: Opened) -> str:
    """Open the page as a browser does; gives the id of its kernel."""
    found = re.search(r'"kernelId": "([\w-]+)"', opened.get("/").text)
    assert found
    return found[1]


def alive(opened: Opened, kernel: str) -> bool:
    return opened.get(f"/api/kernels/{kernel}").status == 200


async def connected(opened: Opened, kernel: str) -> WebSocketClientConnection:
    cookies = "; ".join(f"{name}={value}" for name, value in opened.cookies.items())
    address = f"ws://127.0.0.1:{opened.port}/api/kernels/{kernel}/channels"
    return await websocket_connect(HTTPRequest(address, headers={"Cookie": cookies}))


def test_only_the_kernel_without_a_page_is_ended(folder: Path) -> None:
    with started(folder, "-c", PROGRAM) as opened:
        opened.get(opened.entrance)
        kept = shown_kernel(opened)

        async def look() -> None:
            connection = await connected(opened, kept)
            left = await asyncio.to_thread(shown_kernel, opened)
            away = asyncio.to_thread(eventually, lambda: not alive(opened, left))
            assert await away
            # The other was shown before it, and so has been idle for longer than is allowed.
            await asyncio.sleep(2)
            assert await asyncio.to_thread(alive, opened, kept)
            family = opened.family()
            assert family
            # The terminal is closed, with the page still open.
            assert await asyncio.to_thread(opened.end, signal.SIGHUP) == 130
            opened.assert_nothing_left(family)
            connection.close()

        asyncio.run(look())
