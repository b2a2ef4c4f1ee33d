"""The worker process as its parent sees it."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import IO

import leakdx
from leakdx.panels.messages import Errand, NotUnderstood, Report, receive, send

# Without -P a file of the folder it is started in could stand in for a module.
WORKER = (sys.executable, "-P", "-m", "leakdx.panels.worker")
# Two workers share the machine with the page; more threads would only be in each other's way.
_THREADS = ("OMP", "OPENBLAS", "MKL", "VECLIB_MAXIMUM", "NUMEXPR")
# No window of its own, no Ctrl-C, and behind the page in the queue for a processor; 0 anywhere
# but on Windows.
_APART = sum(
    getattr(subprocess, name, 0)
    for name in (
        "CREATE_NO_WINDOW",
        "CREATE_NEW_PROCESS_GROUP",
        "BELOW_NORMAL_PRIORITY_CLASS",
    )
)
# Pieces of what it said last that are kept, for a worker that breaks down.
_KEPT, _PIECE = 16, 1024


class Helper:
    """One worker process.  Raises OSError where it cannot be started."""

    def __init__(self, command: Sequence[str] = WORKER) -> None:
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
            env=_environment(),
            # A kernel is interrupted with its whole group, and so is what runs in a terminal.
            process_group=0 if os.name == "posix" else None,
            creationflags=_APART,
        )
        self.used = False
        self._last: deque[bytes] = deque(maxlen=_KEPT)
        self._hearing = Thread(target=self._hear, daemon=True)
        self._hearing.start()

    @property
    def pid(self) -> int:
        """Its number in the system."""
        return self._process.pid

    @property
    def alive(self) -> bool:
        """Whether it still runs."""
        return self._process.poll() is None

    def ask(self, errand: Errand) -> None:
        """Hand it an errand.  Raises OSError where it is gone."""
        body = pickle.dumps(errand, pickle.HIGHEST_PROTOCOL)
        send(_there(self._process.stdin), b"E", body)

    def skip(self) -> None:
        """Tell it that nobody waits for the rest of its errand."""
        # One that is gone has nothing left to skip.
        with suppress(OSError):
            send(_there(self._process.stdin), b"S")

    def report(self) -> Report | None:
        """Its next report, waited for; None where none comes any more."""
        try:
            message = receive(_there(self._process.stdout))
            report = None if message is None else pickle.loads(message[1])
        except (NotUnderstood, OSError):
            report = None
        return report if isinstance(report, Report) else None

    def stand_still(self) -> None:
        """Have it do nothing until it is to go on; where the system can do that.

        Where its parent dies meanwhile the system ends it; it has asked for that.
        """
        self._signal("SIGSTOP")

    def go_on(self) -> None:
        """Let it go on."""
        self._signal("SIGCONT")

    def _signal(self, name: str) -> None:
        # One that is gone has nothing left to hold back.
        with suppress(OSError):
            if hasattr(signal, name):
                self._process.send_signal(getattr(signal, name))

    def kill(self) -> None:
        """End it, whatever it is doing."""
        with suppress(OSError):
            self._process.kill()

    def end(self) -> str:
        """End it, wait until it is gone and leave nothing of it; what it said last."""
        self.kill()
        code = self._process.wait()
        # Whoever it may have started could hold the pipe open: no longer than this.
        self._hearing.join(1)
        for pipe in (self._process.stdin, self._process.stdout, self._process.stderr):
            with suppress(OSError):
                _there(pipe).close()
        said = b"".join(self._last).decode(errors="replace")
        return f"It ended with {code}.\n{said}".strip()

    def _hear(self) -> None:
        errors = _there(self._process.stderr)
        with suppress(OSError, ValueError):
            while piece := errors.read(_PIECE):
                self._last.append(piece)


def _there(pipe: IO[bytes] | None) -> IO[bytes]:
    assert pipe is not None
    return pipe


def _environment() -> dict[str, str]:
    """The same as here, with one thread for sums and this leakdx to be found first."""
    there = dict(os.environ)
    there |= {f"{name}_NUM_THREADS": "1" for name in _THREADS}
    room = Path(leakdx.__file__).resolve().parent.parent
    # Where packages are installed it is found anyway, and after the standard library.
    if room.name not in ("site-packages", "dist-packages"):
        others = [p for p in (there.get("PYTHONPATH"),) if p]
        there["PYTHONPATH"] = os.pathsep.join([str(room), *others])
    return there
