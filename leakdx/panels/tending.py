"""The one thread that a desk works in: what comes from others is handed over to it.

A store belongs to the thread that opened it.  Reports come from a thread of their own, and so
may messages: JupyterLab sends them to a subshell.  Where the thread has an event loop (a
kernel), it is told at once; where it has none, what was handed over waits for ``drain``.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from queue import Empty, SimpleQueue
from threading import get_ident

Call = Callable[[], None]


class Tending:
    """Calls handed over from any thread, one that is put off, and one that is repeated."""

    def __init__(self) -> None:
        self._thread = get_ident()
        self._calls: SimpleQueue[Call] = SimpleQueue()
        self._later: dict[str, asyncio.TimerHandle] = {}
        self._closed = False
        try:
            self._loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None

    @property
    def at_home(self) -> bool:
        """Whether this is the thread it was made in."""
        return get_ident() == self._thread

    def hand_over(self, call: Call) -> None:
        """Have something called in the thread of the desk, after whatever waits there."""
        self._calls.put(call)
        if self._loop is not None:
            # The loop of a kernel that ends is closed first; nobody waits for it any more.
            with suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self.drain)

    def drain(self) -> int:
        """Call whatever waits; gives how many there were."""
        count = 0
        while not self._closed:
            try:
                call = self._calls.get_nowait()
            except Empty:
                break
            call()
            count += 1
        return count

    def later(self, name: str, seconds: float, call: Call) -> None:
        """Call something after a time in which it is not asked for again by that name.

        At once where there is no event loop.
        """
        self.not_later(name)
        if self._closed:
            return
        if self._loop is None:
            call()
            return
        self._later[name] = self._loop.call_later(seconds, self._due, name, call)

    def not_later(self, name: str) -> None:
        """Forget what was to be called later by that name."""
        handle = self._later.pop(name, None)
        if handle is not None:
            handle.cancel()

    def every(self, seconds: float, call: Call) -> None:
        """Call something again and again until closed; never where there is no event loop."""
        if self._loop is None:
            return

        def again() -> None:
            call()
            self.every(seconds, call)

        self.later("every", seconds, again)

    def close(self) -> None:
        """Nothing more is called."""
        self._closed = True
        for name in tuple(self._later):
            self.not_later(name)

    def _due(self, name: str, call: Call) -> None:
        self._later.pop(name, None)
        if not self._closed:
            call()
