"""The signals that stop it, heard once."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
import time

import pytest

from leakdx.opening.stopping import stopped_by_signals


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_the_loop_and_the_next_ones_are_not_heard(number: signal.Signals) -> None:
    before = [signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)]
    loop = asyncio.new_event_loop()
    with stopped_by_signals() as stopping:
        sender = threading.Timer(0.2, os.kill, (os.getpid(), number))
        sender.start()
        begun = time.monotonic()
        # Else a signal that is not heard would leave the test waiting.
        loop.call_later(10, loop.stop)
        stopping.run(loop)
        assert time.monotonic() - begun < 9
        # Pressed again during the clearing up.
        os.kill(os.getpid(), number)
        time.sleep(0.05)
    loop.close()
    sender.join()
    after = [signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)]
    assert after == before


def test_while_nothing_runs_a_signal_interrupts() -> None:
    with pytest.raises(KeyboardInterrupt), stopped_by_signals():
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(1)


def test_what_was_started_meanwhile_does_not_keep_the_signals() -> None:
    loop = asyncio.new_event_loop()
    with stopped_by_signals() as stopping:
        signal.signal(signal.SIGTERM, lambda *_: None)
        loop.call_later(0.1, os.kill, os.getpid(), signal.SIGTERM)
        loop.call_later(10, loop.stop)
        begun = time.monotonic()
        stopping.run(loop)
        assert time.monotonic() - begun < 9
    loop.close()


def test_who_asked_that_it_outlives_the_terminal_meant_it() -> None:
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with stopped_by_signals():
            os.kill(os.getpid(), signal.SIGHUP)
            time.sleep(0.05)
    finally:
        signal.signal(signal.SIGHUP, before)
