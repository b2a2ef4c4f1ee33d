"""A desk without a kernel, its background work, and what a page would say to it."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from leakdx.advice.swift import Swift
from leakdx.case.read import LoadedJob, load_job
from leakdx.panels.desk import Desk
from leakdx.panels.messages import Errand, Report
from leakdx.priors.read import shipped_priors
from leakdx.store.store import CaseStore

DATA = Path(__file__).parent.parent / "data"
TRAITS = ("shelf", "machine", "job", "ranking", "answers", "work", "faults", "notices", "saved")
_KEYS = itertools.count(1)


def wet_foot() -> LoadedJob:
    """A job of nine entries on a machine of four zones and three seal points."""
    return load_job(DATA / "wet_foot.yaml")


class FakeErrands:
    """Remembers what is asked of it; a test brings the answers."""

    def __init__(self, told: Callable[[Report], None]) -> None:
        self.told = told
        self.asked: list[Errand] = []
        self.stopped: list[str] = []
        self.closed = False
        self.held: list[bool] = []

    def ask(self, errand: Errand) -> None:
        self.asked.append(errand)

    def stop(self, name: str) -> None:
        self.stopped.append(name)

    def warm(self) -> None:
        """There is nothing to start."""

    def stand_still(self) -> None:
        self.held.append(True)

    def go_on(self) -> None:
        self.held.append(False)

    def close(self) -> None:
        self.closed = True

    def names(self) -> list[str]:
        """Names of all that was asked for."""
        return [errand.name for errand in self.asked]


class DeskUnderTest:
    """A desk, its store, its errands and what it sent to the page besides its traits."""

    def __init__(self, folder: Path, store: CaseStore | None = None) -> None:
        self.store = store or CaseStore.open(folder)
        made: list[FakeErrands] = []

        def errands(told: Callable[[Report], None]) -> FakeErrands:
            made.append(FakeErrands(told))
            return made[0]

        self.desk = Desk(self.store, errands)
        self.errands = made[0]
        self.sent: list[Any] = []
        self.desk.send = lambda content, buffers=None: self.sent.append(content)

    def say(self, do: str, **rest: Any) -> str:
        """Say something as the page does; gives its key."""
        key = rest.pop("key", None) or f"key-{next(_KEYS)}"
        self.raw({"do": do, "key": key, "control": f"{do}-control", **rest})
        return str(key)

    def raw(self, content: object) -> None:
        """Say anything at all, as it comes out of the wire."""
        self.desk._handle_custom_msg(json.loads(json.dumps(content)), [])

    def enter(self, *entries: dict[str, Any], **rest: Any) -> str:
        """Enter entries in one message; gives its key."""
        return self.say("enter", entries=list(entries), **rest)

    def report(self, name: str, head: int, status: Any, **rest: Any) -> None:
        """Have a worker report, and the desk take it in."""
        self.errands.told(Report(name, head, status, **rest))
        self.desk.drain()

    def traits(self) -> dict[str, Any]:
        """All traits as the page gets them."""
        return {name: json.loads(json.dumps(getattr(self.desk, name))) for name in TRAITS}

    @property
    def head(self) -> int:
        """Head of the open job."""
        return int(self.desk.job["head"])

    def faults(self) -> list[str]:
        """What is told to be wrong."""
        return [fault["said"] for fault in self.desk.faults]


def begun(folder: Path) -> DeskUnderTest:
    """A desk with the small job open."""
    store = CaseStore.open(folder)
    loaded = wet_foot()
    store.opened(store.begin(loaded.job, loaded.machine, "begin:test"))
    return DeskUnderTest(folder, store)


def with_swift(desk: DeskUnderTest) -> DeskUnderTest:
    """The same, after the worker has brought what ranks at once."""
    asked = next(e for e in reversed(desk.errands.asked) if e.name == "ready")
    swift = Swift.of(asked.loaded, shipped_priors())
    desk.report("ready", asked.head, "answer", part="ready", answer=swift)
    desk.report("ready", asked.head, "done")
    return desk
