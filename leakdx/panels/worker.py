"""The process in which slow work is done: ``python -m leakdx.panels.worker``.

It takes one errand at a time from its standard input and tells on its standard output how far it
is.  It ends at once when its input ends or its parent is gone, whatever it is doing.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import signal
import sys
import time
import traceback
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from io import FileIO
from queue import SimpleQueue
from threading import Event, Thread
from typing import Any, NoReturn

from leakdx.panels.messages import (
    Do,
    Dropped,
    Errand,
    NotUnderstood,
    Pipe,
    Report,
    Status,
    receive,
    send,
)

# What most errands need, the slowest to import last.
WARM = (
    "leakdx.panels.doing",
    "leakdx.panels.latest",
    "leakdx.panels.answers_next",
    "leakdx.reasons.account",
    "leakdx.advice.swift",
)
GARBLED = 2
# How far behind the page in the queue for a processor, of 19.
BEHIND = 10
_PR_SET_PDEATHSIG = 1
# Seconds between two looks at whether the parent is still there.
_WATCH = 0.5


class Teller:
    """Tells how far one errand is.  skip: set where nobody waits for the rest of it."""

    def __init__(self, errand: Errand, out: Pipe, skip: Event) -> None:
        self._errand, self._out, self._skip = errand, out, skip
        self._last = ("", 0, 0)

    def running(self, said: str, done: int, of: int) -> None:
        """Tell the stage that begins, once.  Raises Dropped where nobody waits for the rest."""
        if self._skip.is_set():
            raise Dropped
        if (said, done, of) != self._last:
            self._last = said, done, of
            self.tell("running", said=said, done=done, of=of)

    def answer(self, part: str, answer: object) -> None:
        """Tell a part of the answer."""
        self.tell("answer", part=part, answer=answer)

    def tell(self, status: Status, **more: Any) -> None:
        """Tell a status, with the other fields of its report."""
        errand = self._errand
        report = Report(errand.name, errand.head, status, job=errand.loaded.job.id, **more)
        body = pickle.dumps(report, pickle.HIGHEST_PROTOCOL)
        try:
            send(self._out, b"R", body)
        except OSError:
            # Nobody is there to hear it.
            os._exit(0)


def serve(do: Do, warm: Sequence[str] = ()) -> NoReturn:
    """Do errands until the input ends; never returns.  warm: modules imported while it waits."""
    _end_with_parent()
    # It is stopped by its pipe alone.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # The page, which ranks at once, goes first.  On Windows whoever starts it sees to that.
    if sys.platform != "win32":
        os.nice(BEHIND)
    inbox: SimpleQueue[bytes] = SimpleQueue()
    skip = Event()
    inward, outward = _private_ends()
    Thread(target=_listen, args=(inward, inbox, skip), daemon=True).start()
    if sys.platform != "win32":
        Thread(target=_watch, args=(os.getppid(),), daemon=True).start()
    for module in warm:
        if inbox.empty():
            # Where this fails, the errand that needs it says so.
            with suppress(Exception):
                import_module(module)
    while True:
        _carry_out(do, _errand(inbox.get()), outward, skip)


def _end_with_parent() -> None:
    """Have the system end this process with the thread that started it, where it can do that.

    One that stands still cannot see to that itself.  Source: prctl(2) of Linux.
    """
    if sys.platform == "linux":
        # Where the call is missing, what is left alone while it stands still is ended by the rule
        # for orphaned process groups, most times.
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, int(signal.SIGKILL))


def _private_ends() -> tuple[Pipe, Pipe]:
    """Input and output for messages alone: a stray print or input() cannot get in between."""
    inward, outward = os.dup(0), os.dup(1)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    os.dup2(2, 1)
    if sys.platform == "win32":
        import msvcrt

        msvcrt.setmode(inward, os.O_BINARY)
        msvcrt.setmode(outward, os.O_BINARY)
    return FileIO(inward, "r"), FileIO(outward, "w")


def _listen(inward: Pipe, inbox: SimpleQueue[bytes], skip: Event) -> NoReturn:
    """Take messages as they come, also while an errand is being done."""
    while True:
        try:
            message = receive(inward)
        except NotUnderstood as error:
            _give_up(str(error))
        except OSError:
            os._exit(0)
        if message is None:
            os._exit(0)
        kind, body = message
        if kind == b"E":
            # A skip that came too late was for the errand before.
            skip.clear()
            inbox.put(body)
        elif kind == b"S":
            skip.set()
        else:
            _give_up(f"there is no message of the kind {kind!r}")


def _watch(parent: int) -> NoReturn:
    """End with the parent, even where some other process has kept the pipe open."""
    while os.getppid() == parent:
        time.sleep(_WATCH)
    os._exit(0)


def _errand(body: bytes) -> Errand:
    try:
        errand = pickle.loads(body)
    except Exception:
        _give_up(traceback.format_exc())
    if not isinstance(errand, Errand):
        _give_up(f"{type(errand).__name__} is no errand")
    return errand


def _give_up(why: str) -> NoReturn:
    """What comes after a garbled message cannot be told from it."""
    os.write(2, f"not understood: {why}\n".encode())
    os._exit(GARBLED)


def _carry_out(do: Do, errand: Errand, out: Pipe, skip: Event) -> None:
    teller = Teller(errand, out, skip)
    try:
        do(errand, teller)
    except Dropped:
        teller.tell("stopped")
    except Exception as error:
        from leakdx.panels.trouble import trouble_of

        teller.tell("failed", error=trouble_of(error, errand.loaded.machine))
    else:
        teller.tell("done")


def main() -> NoReturn:
    """Do what the page asks for."""
    from leakdx.panels.doing import doing

    serve(doing(), WARM)


if __name__ == "__main__":
    main()
