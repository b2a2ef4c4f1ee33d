"""One worker process and the errands that wait for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Condition, Thread, current_thread

from leakdx.panels.helper import Helper
from leakdx.panels.messages import ENDS, Errand, Report, Status
from leakdx.panels.shapes import Trouble

BROKE_DOWN = "The background work ended before its time; the job is safe. Ask for it again."
NO_START = "The background work could not be started; the job is safe. Ask for it again."
# Worked out before anything else that waits: with it the ranking is there at once.
FIRST = "ready"


@dataclass
class _Turn:
    """The errand that is being done.

    sent: the worker has it.  skipped: it is to end at its next stage.  silent: what waits for it
    to end is told of under the same name and head.  killed: it was stopped.
    """

    errand: Errand
    sent: bool = False
    skipped: bool = False
    silent: bool = False
    killed: bool = False


class Lane:
    """Errands done one after another, in a process that is started when it is first needed.

    tell: called with each report, from any thread.
    """

    def __init__(self, command: Sequence[str], tell: Callable[[Report], None]) -> None:
        self._command = command
        self._tell = tell
        self._change = Condition()
        self._waiting: list[Errand] = []
        self._turn: _Turn | None = None
        self._helper: Helper | None = None
        self._wanted = False
        self._closed = False
        self._thread: Thread | None = None

    @property
    def pid(self) -> int | None:
        """Number of the process in the system; None where there is none."""
        helper = self._helper
        return helper.pid if helper is not None and helper.alive else None

    def ask(self, errand: Errand) -> None:
        """Put an errand in the place of one of the same name that waits, or behind the others.

        One of the same name that is being done is let run to its next stage.
        """
        with self._change:
            if self._closed:
                return
            self._drop(errand.name, errand.head)
            turn = self._turn
            if turn is not None and not turn.skipped and turn.errand.asks_the_same(errand):
                # What is under way brings the answer.
                return
            self._waiting.insert(0 if errand.name == FIRST else len(self._waiting), errand)
            self._skip_old()
            self._begin()

    def warm(self) -> None:
        """Start the process, so that it is ready when the first errand comes."""
        with self._change:
            if not self._closed:
                self._wanted = True
                self._begin()

    def stop(self, name: str) -> None:
        """Give up an errand, waiting or under way; those behind it are done all the same."""
        with self._change:
            self._drop(name, None)
            turn = self._turn
            if turn is not None and turn.errand.name == name:
                turn.killed = True
                if self._helper is not None:
                    self._helper.kill()

    def stand_still(self) -> None:
        """Have the process do nothing until it is to go on."""
        helper = self._helper
        if helper is not None:
            helper.stand_still()

    def go_on(self) -> None:
        """Let the process go on."""
        helper = self._helper
        if helper is not None:
            helper.go_on()

    def shut(self) -> None:
        """End the process and give up all errands, without a report.  Never waits."""
        with self._change:
            self._closed = True
            self._waiting.clear()
            if self._helper is not None:
                self._helper.kill()
            self._change.notify()

    def wait(self, seconds: float) -> None:
        """Wait until nothing is left of it, no longer than that."""
        if self._thread is not None and self._thread is not current_thread():
            self._thread.join(seconds)

    def _begin(self) -> None:
        if self._thread is None:
            self._thread = Thread(target=self._go, name="leakdx errands", daemon=True)
            self._thread.start()
        self._change.notify()

    def _drop(self, name: str, head: int | None) -> None:
        """Give up what waits by that name; head: of what comes in its place."""
        for errand in [e for e in self._waiting if e.name == name]:
            self._waiting.remove(errand)
            # Under the same head, what comes in its place is told of by the same name.
            if errand.head != head:
                self._tell(_ended(errand, "stopped"))

    def _skip_old(self) -> None:
        """Let what is being done end early where a newer one of its name waits."""
        turn, helper = self._turn, self._helper
        if turn is None or helper is None or not turn.sent or turn.skipped:
            return
        newer = [e for e in self._waiting if e.name == turn.errand.name]
        if newer:
            turn.skipped = True
            turn.silent = any(e.head == turn.errand.head for e in newer)
            helper.skip()

    def _go(self) -> None:
        """Do errands until closed."""
        while (turn := self._next()) is not None:
            try:
                last = self._done(turn)
            except OSError as error:
                last = _failed(turn.errand, NO_START, str(error))
            with self._change:
                self._turn = None
                if not self._closed and not turn.silent:
                    self._tell(last)
        self._end()

    def _next(self) -> _Turn | None:
        """The errand whose turn it is, waited for; None once closed."""
        while True:
            with self._change:
                while not (self._waiting or self._wanted or self._closed):
                    self._change.wait()
                if self._closed:
                    return None
                self._wanted = False
                if self._waiting:
                    self._turn = _Turn(self._waiting.pop(0))
                    return self._turn
            try:
                self._started()
            except OSError:
                # The first errand will say so.
                continue

    def _done(self, turn: _Turn) -> Report:
        """Have an errand done; its last report.  Raises OSError where no process can be started."""
        while True:
            helper = self._started()
            fresh, helper.used = not helper.used, True
            heard, last = self._followed(helper, turn)
            if last is not None:
                return last
            said = self._end()
            if turn.killed or self._closed:
                return _ended(turn.errand, "stopped")
            # One that was gone before it was asked is no fault of the errand.
            if heard or fresh:
                return _failed(turn.errand, BROKE_DOWN, said)

    def _followed(self, helper: Helper, turn: _Turn) -> tuple[bool, Report | None]:
        """Whether anything was heard of an errand, and its last report, None where it broke off."""
        try:
            helper.ask(turn.errand)
        except OSError:
            return False, None
        with self._change:
            turn.sent = True
            self._skip_old()
            if turn.killed or self._closed:
                helper.kill()
        heard = False
        while (report := helper.report()) is not None:
            heard = True
            if report.status in ENDS:
                return True, report
            if not turn.killed and not turn.silent:
                self._tell(report)
        return heard, None

    def _started(self) -> Helper:
        """The process, started anew where there is none.  Raises OSError."""
        helper = self._helper
        if helper is not None and helper.alive:
            return helper
        self._end()
        helper = Helper(self._command)
        with self._change:
            self._helper = helper
        return helper

    def _end(self) -> str:
        """End the process; what it said last."""
        with self._change:
            helper, self._helper = self._helper, None
        return "" if helper is None else helper.end()


def _failed(errand: Errand, said: str, details: str) -> Report:
    return _ended(errand, "failed", Trouble(said=said, details=details))


def _ended(errand: Errand, status: Status, error: Trouble | None = None) -> Report:
    return Report(errand.name, errand.head, status, error=error, job=errand.loaded.job.id)
