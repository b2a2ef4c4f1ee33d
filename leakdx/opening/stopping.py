"""How it is stopped: Ctrl-C, being told to end, or the terminal closed, all the same way."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

NAMES = ("SIGINT", "SIGTERM", "SIGHUP")


class Stopping:
    """Hears the signals. The first stops; during the clearing up the others are not heard."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._heard = False

    def listen(self) -> dict[int, Any]:
        """Have the signals heard; gives what they did before."""
        before: dict[int, Any] = {}
        for name in NAMES:
            number = getattr(signal, name, None)
            if number is None:
                continue
            doing = signal.getsignal(number)
            # Who asked that it outlives its terminal (nohup) meant it.
            if name != "SIGHUP" or doing is not signal.SIG_IGN:
                before[number] = signal.signal(number, self.hear)
        return before

    def hear(self, number: int, frame: FrameType | None) -> None:
        """Stop.

        Raises:
            KeyboardInterrupt: where nothing runs yet that could be stopped.
        """
        if self._heard:
            return
        self._heard = True
        if self._loop is None:
            raise KeyboardInterrupt
        self._loop.call_soon_threadsafe(self._loop.stop)

    def run(self, loop: asyncio.AbstractEventLoop) -> None:
        """Run ``loop`` until a signal is heard."""
        self._loop = loop
        # What was started meanwhile may have set its own.
        self.listen()
        if not self._heard:
            loop.run_forever()


@contextmanager
def stopped_by_signals() -> Iterator[Stopping]:
    """The signals are heard; afterwards they do again what they did before."""
    stopping = Stopping()
    before = stopping.listen()
    try:
        yield stopping
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
