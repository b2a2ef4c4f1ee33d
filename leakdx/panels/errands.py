"""Slow work done in the background: asked for here, done in worker processes."""

from __future__ import annotations

import traceback
import weakref
from collections.abc import Callable, Sequence
from queue import SimpleQueue
from threading import Thread, current_thread

from leakdx.panels.helper import WORKER
from leakdx.panels.lane import Lane
from leakdx.panels.messages import Errand, Report

__all__ = ["Errand", "Errands", "Report"]

# What follows every entry has a process of its own, so that nothing asked for beside it holds it
# up.
QUICK = frozenset({"settle", "ready"})
# Seconds that each thread may take to end.
_ENDING = 0.6


class Errands:
    """Errands in two lanes: what follows every entry, and what is asked for.

    told: called with each report, one after another, from a thread of its own; nothing is told
    after ``close``.  worker: the program that is started for each lane.
    """

    def __init__(self, told: Callable[[Report], None], worker: Sequence[str] = WORKER) -> None:
        self._mouth = _Mouth(told)
        self._quick = Lane(worker, self._mouth.tell)
        self._slow = Lane(worker, self._mouth.tell)
        # Also where nobody closes it, and when the program ends.
        self._end = weakref.finalize(self, _end, self._mouth, (self._quick, self._slow))

    @property
    def pids(self) -> tuple[int, ...]:
        """Numbers of the processes that there are now."""
        return tuple(p for lane in (self._quick, self._slow) if (p := lane.pid) is not None)

    def ask(self, errand: Errand) -> None:
        """Have an errand done.

        One of the same name that waits is given up for it, and one under way ends at its next
        stage; both are told as stopped, unless they have the same head: then the reports from
        here on are those of this one.  Never waits.
        """
        self._lane(errand.name).ask(errand)

    def stop(self, name: str) -> None:
        """Give up an errand, waiting or under way.  Never waits."""
        self._lane(name).stop(name)

    def warm(self) -> None:
        """Start the process for what follows every entry before it is needed."""
        self._quick.warm()

    def stand_still(self) -> None:
        """Take no processor from whoever answers a tap, until told to go on."""
        for lane in (self._quick, self._slow):
            lane.stand_still()

    def go_on(self) -> None:
        """Go on with what there is to do."""
        for lane in (self._quick, self._slow):
            lane.go_on()

    def close(self) -> None:
        """End both processes; errands that are not done are lost, and nothing more is told."""
        self._end()

    def _lane(self, name: str) -> Lane:
        return self._quick if name in QUICK else self._slow


class _Mouth:
    """Tells reports one after another, so that no lane waits for whoever is told."""

    def __init__(self, told: Callable[[Report], None]) -> None:
        self._told = told
        self._reports: SimpleQueue[Report | None] = SimpleQueue()
        self._closed = False
        self._thread = Thread(target=self._speak, name="leakdx reports", daemon=True)
        self._thread.start()

    def tell(self, report: Report) -> None:
        self._reports.put(report)

    def close(self, seconds: float) -> None:
        self._closed = True
        self._reports.put(None)
        if self._thread is not current_thread():
            self._thread.join(seconds)

    def _speak(self) -> None:
        while (report := self._reports.get()) is not None:
            if self._closed:
                break
            try:
                self._told(report)
            except Exception:
                # The next report is told all the same.
                traceback.print_exc()


def _end(mouth: _Mouth, lanes: Sequence[Lane]) -> None:
    for lane in lanes:
        lane.shut()
    mouth.close(_ENDING)
    for lane in lanes:
        lane.wait(_ENDING)
