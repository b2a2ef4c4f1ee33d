"""Errands whose reports are heard, and whether a process is gone, for tests."""

from __future__ import annotations

import os
import sys
import time
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, cast

from leakdx.panels.errands import Errand, Errands, Report
from leakdx.panels.messages import ENDS
from tests.panels.posted import WET_FOOT

FAKE = (sys.executable, str(Path(__file__).parent / "fake_worker.py"))
ROOT = Path(__file__).parent.parent.parent
# Seconds after which what should have come will not; the machine may be busy.
PATIENCE = 20.0


class Heard:
    """Errands, and the reports as they come."""

    def __init__(self, worker: tuple[str, ...] = FAKE) -> None:
        self.reports: SimpleQueue[Report] = SimpleQueue()
        self.errands = Errands(self.reports.put, worker)

    def ask(self, name: str, head: int = 1, seal: str | None = None, **more: Any) -> None:
        self.errands.ask(Errand(name, head, WET_FOOT, seal=seal, **more))

    def next(self) -> Report:
        return self.reports.get(timeout=PATIENCE)

    def until(self, status: str, name: str | None = None) -> Report:
        """The next report of that status; fails where an errand ends otherwise before."""
        while True:
            report = self.next()
            if report.status == status and name in (None, report.name):
                return report

    def ends(self, count: int) -> list[tuple[str, int, str]]:
        """The ends of so many errands, as they come."""
        found: list[tuple[str, int, str]] = []
        while len(found) < count:
            report = self.next()
            if report.status in ENDS:
                found.append((report.name, report.head, report.status))
        return found

    def quiet(self, seconds: float) -> bool:
        """Whether nothing more is told for so long."""
        try:
            self.reports.get(timeout=seconds)
        except Empty:
            return True
        return False

    def worker_of(self, name: str) -> int:
        """Number of the process that an errand of that name is done in."""
        self.ask(name, head=0)
        answer = cast("list[int]", self.until("answer", name).answer)
        self.until("done", name)
        return answer[2]


def gone(pid: int, within: float) -> bool:
    """Whether a process is gone for good, not even a zombie, within so many seconds."""
    end = time.monotonic() + within
    while time.monotonic() < end:
        if not there(pid):
            return True
        time.sleep(0.02)
    return not there(pid)


def there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def ended(pid: int, within: float) -> bool:
    """Whether a process runs no more within so many seconds.

    One whose parent was killed is left to the first process of the system, which may take its
    time to note the end of it.
    """
    state = Path("/proc") / str(pid) / "stat"
    end = time.monotonic() + within
    while time.monotonic() < end and there(pid):
        with suppress(OSError):
            if state.read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        time.sleep(0.02)
    return not there(pid)
