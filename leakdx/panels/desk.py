"""The page as one widget: what it says is written to the store first, and only then shown.

All that may go wrong is told on the page, beside the control that asked for it.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, ClassVar

import anywidget
import traitlets

from leakdx.case.casefile import case_text
from leakdx.files.faults import Fault, FaultyInput
from leakdx.machine.model import Machine
from leakdx.panels import handling
from leakdx.panels import state as states
from leakdx.panels.errands import Errand, Errands, Report
from leakdx.panels.following import (
    READY,
    SETTLE,
    Working,
    ranking_at_once,
    to_be_asked,
    waiting,
    with_report,
)
from leakdx.panels.hearing import (
    Ask,
    Begin,
    Change,
    CloseJob,
    Dismiss,
    GiveOut,
    OpenExample,
    OpenJob,
    Order,
    Stop,
    TakeIn,
    heard,
    marks_of,
)
from leakdx.panels.machine_view import machine_view
from leakdx.panels.module import page_module, page_style
from leakdx.panels.shelf_view import shelf_view
from leakdx.panels.showing import changed, notices_of
from leakdx.panels.state import State
from leakdx.panels.telling import fault_said
from leakdx.panels.tending import Tending
from leakdx.store.store import CaseStore, Kept

OPEN = "LEAKDX_OPEN"
# Seconds without an entry until what follows from the entries is worked out; and between two
# looks at what other windows wrote.
QUIET, LOOK = 0.5, 1.0
# Seconds in which the page draws what it was told.
DRAWN = 0.08
DRAWING = "drawing the machine"


class Desk(anywidget.AnyWidget):
    """The page.  Its traits are plain data for the page to draw, each replaced whole.

    store: the one of this user if None.  errands: makes whoever does the slow work, given whom
    to tell.
    """

    _esm = page_module()
    _css = page_style()
    shelf = traitlets.Any().tag(sync=True)
    machine = traitlets.Any().tag(sync=True)
    job = traitlets.Any().tag(sync=True)
    ranking = traitlets.Any().tag(sync=True)
    answers = traitlets.Any().tag(sync=True)
    work = traitlets.Any().tag(sync=True)
    faults = traitlets.Any().tag(sync=True)
    notices = traitlets.Any().tag(sync=True)
    saved = traitlets.Any().tag(sync=True)
    TOLD: ClassVar = frozenset(
        ("shelf", "machine", "job", "ranking", "answers", "work", "faults", "notices", "saved")
    )

    def __init__(
        self,
        store: CaseStore | None = None,
        errands: Callable[[Callable[[Report], None]], Working] = Errands,
    ) -> None:
        self._state = State()
        self._shown: State | None = None
        self._drawn: dict[int, tuple[Machine, dict[str, Any]]] = {}
        self._tending = Tending()
        self._trouble: FaultyInput | None = None
        self._store: CaseStore | None = store
        super().__init__()
        self._working = errands(self._told)
        self._working.warm()
        with self._guarded("open", "page"):
            if self._store is None:
                self._store = self._opened_store()
        with self._guarded("open", "page"):
            self._start()
        self._show()
        self._reshelve()
        self.on_msg(self._on_message)
        self._tending.every(LOOK, self._look_round)

    def drain(self) -> int:
        """Do what was handed over by other threads and waits; gives how much there was.

        In a kernel this happens by itself.
        """
        return self._tending.drain()

    def close(self) -> None:
        """End the background work and let go of the store."""
        self._tending.close()
        self._working.close()
        if self._store is not None:
            self._store.close()
            self._store = None
        super().close()

    def set_state(self, sync_data: dict[str, Any]) -> None:
        """What the page says of its own widget; what Python tells the page stays Python's."""
        super().set_state({k: v for k, v in sync_data.items() if k not in self.TOLD})

    # --- what comes from the page ---------------------------------------------------------

    def _on_message(self, _widget: object, content: object, _buffers: object) -> None:
        if self._tending.at_home:
            self._hear(content)
        else:
            self._tending.hand_over(lambda: self._hear(content))

    def _hear(self, content: object) -> None:
        # Whoever has tapped goes before all that is worked out in the background.
        self._working.stand_still()
        try:
            self._answer(content)
        finally:
            self._tending.later("go on", DRAWN, self._working.go_on)

    def _answer(self, content: object) -> None:
        key, control = marks_of(content)
        # A fault needs a name to be dismissed by.
        with self._guarded(key or f"message-{secrets.token_hex(4)}", control):
            order = heard(content)
            if isinstance(order, Dismiss):
                self._become(states.dismissed(self._state, order.key))
                return
            self._obey(order)
            known = order.key in self._state.saved
            self._become(states.acknowledged(self._state, order.key, order.control))
            if known:
                # The page asks again because it has not heard it.
                self.send_state("saved")
        self._follow()
        if self._state.kept is None:
            self._reshelve()
        else:
            # Nobody looks at the shelf while a job is open.
            self._tending.later("shelf", QUIET, self._reshelve)

    def _obey(self, order: Order) -> None:
        match order:
            case OpenJob(job=job_id):
                self._open(job_id)
            case CloseJob():
                self._leave()
                self._reshelve()
                self._become(states.closed(self._state))
                self.machine = None
            case Begin() | OpenExample() | TakeIn():
                self._open(handling.begun(order, self._there))
            case GiveOut():
                self._give_out()
            case Change():
                self._write(order)
            case Ask():
                self._ask(order)
            case Stop(errand=name):
                self._tending.not_later(name)
                self._become(states.at_rest(self._state, name))
                self._working.stop(name)

    def _write(self, order: Change) -> None:
        kept = self._kept()
        job_id = order.job or kept.loaded.job.id
        written = handling.written(order, job_id, self._there)
        if job_id == kept.loaded.job.id:
            self._move_on(written)

    def _give_out(self) -> None:
        loaded = self._kept().loaded
        name = f"{loaded.job.id}.yaml"
        self.send({"file": {"name": name, "text": case_text(loaded), "type": "application/yaml"}})

    def _ask(self, order: Ask) -> None:
        kept = self._kept()
        if order.errand == SETTLE:
            self._settle()
            return
        errand = Errand(
            order.errand, kept.head, kept.loaded, order.seal, order.which, order.renew, order.pair
        )
        asker = order.key, order.control
        self._become(states.asking(self._state, waiting(order.errand, kept.head), asker))
        self._working.ask(errand)

    # --- jobs -----------------------------------------------------------------------------

    @property
    def _there(self) -> CaseStore:
        """The store.  Raises FaultyInput where it could not be opened."""
        if self._store is None:
            raise self._trouble or _fault("the desk is closed", "Open it again.")
        return self._store

    def _opened_store(self) -> CaseStore:
        try:
            return CaseStore.open()
        except FaultyInput as error:
            self._trouble = error
            raise

    def _kept(self) -> Kept:
        if self._state.kept is None:
            raise _fault("no job is open", "Open a job, or begin one, and do it again.")
        return self._state.kept

    def _start(self) -> None:
        """The job that was asked for, or else the one that was open last."""
        job_id = os.environ.get(OPEN, "").strip() or self._there.last_opened()
        if job_id:
            self._open(job_id)

    def _open(self, job_id: str) -> None:
        store = self._there
        kept = store.read(job_id)
        filings = store.since(job_id, 0)
        store.opened(job_id)
        self._leave()
        self._become(states.opened(self._state, kept, filings))
        self._settle()
        self._draw()

    def _leave(self) -> None:
        """Nobody waits for what was asked for the job that is open."""
        for name in (SETTLE, "draw"):
            self._tending.not_later(name)
        for line in self._state.work:
            if line["stop"] and line["errand"] != SETTLE:
                self._working.stop(line["errand"])

    def _move_on(self, kept: Kept) -> None:
        """The open job is another now; what other windows wrote meanwhile is told."""
        store, old = self._there, self._kept()
        more = store.since(kept.loaded.job.id, old.head)
        if not more:
            return
        state = states.moved_on(self._state, kept, more)
        notices = notices_of(more, store.window, kept.loaded.machine, state)
        self._become(states.noticed(state, notices))

    def _look_round(self) -> None:
        """Whether another window wrote to the store; if to this job, take it over."""
        with self._guarded("look", "page"):
            if self._store is None or not self._store.moved():
                return
            if self._state.kept is not None:
                self._move_on(self._store.read(self._state.kept.loaded.job.id))
            self._reshelve()
        self._follow()

    # --- what follows from an entry -------------------------------------------------------

    def _follow(self) -> None:
        """The ranking at once where that can be, and all else after a quiet time."""
        state = self._state
        head = state.head
        if head is None or head in state.heads:
            return
        with self._guarded("follow", "ranking"):
            self._rank()
            names = (SETTLE,) if self._state.swift is not None else (READY, SETTLE)
            for name in names:
                self._become(states.asking(self._state, waiting(name, head)))
            self._tending.later(SETTLE, QUIET, self._settle_guarded)

    def _rank(self) -> None:
        """The quick ranking of the open job; a Swift that does not fit any more is dropped."""
        swift = self._state.swift
        if swift is None:
            return
        answer = ranking_at_once(self._kept(), swift, self._state.full)
        if answer is None:
            self._become(states.without_swift(self._state))
        else:
            self._become(states.ranked(self._state, answer))

    def _settle_guarded(self) -> None:
        with self._guarded("settle", "ranking"):
            if self._state.kept is not None:
                self._settle()

    def _settle(self) -> None:
        """Ask for what follows from the entries: the ranking in full, the next look, a Swift."""
        kept = self._kept()
        for name in to_be_asked(kept, self._state.swift):
            self._become(states.asking(self._state, waiting(name, kept.head)))
            self._working.ask(Errand(name, kept.head, kept.loaded))

    def _told(self, report: Report) -> None:
        """Called from the thread of the reports."""
        self._tending.hand_over(lambda: self._take(report))

    def _take(self, report: Report) -> None:
        with self._guarded(f"{report.name}:{report.head}", "ranking"):
            swift = self._state.swift
            self._become(with_report(self._state, report))
            if self._state.swift is not swift:
                self._rank()

    # --- what the page is told ------------------------------------------------------------

    def _draw(self) -> None:
        """The machine to tap; it takes a second the first time, so the page is told before."""
        machine = self._kept().loaded.machine
        if id(machine) in self._drawn:
            self.machine = self._drawn[id(machine)][1]
            return
        self.machine = None
        line = waiting("draw", self._kept().head)
        line |= {"status": "running", "said": DRAWING, "stop": False}
        self._become(states.asking(self._state, line))
        self._tending.later("draw", 0.0, self._draw_now)

    def _draw_now(self) -> None:
        with self._guarded("draw", "page"):
            machine = self._kept().loaded.machine
            self._become(states.at_rest(self._state, "draw"))
            view = machine_view(machine)
            # Kept with the machine itself, so that its identity is nobody else's.
            self._drawn[id(machine)] = machine, view
            self.machine = view

    def _reshelve(self) -> None:
        with self._guarded("shelf", "page"):
            self.shelf = shelf_view(self._store)

    def _become(self, state: State) -> None:
        self._state = state
        self._show()

    def _show(self) -> None:
        """All that changed, in one message; what cannot be shown is told and stays as it was."""
        broken: list[Exception] = []
        with self.hold_sync():
            for name, value_of in changed(self._shown, self._state):
                try:
                    setattr(self, name, value_of(self._state))
                except Exception as error:
                    broken.append(error)
            self._shown = self._state
            for one in broken:
                self._state = states.faulty(self._state, fault_said(one, "show", "page"))
                self.faults = list(self._state.faults)

    @contextmanager
    def _guarded(self, key: str, control: str) -> Iterator[None]:
        """Whatever goes wrong in it is told on the page."""
        try:
            yield
        except Exception as error:
            kept = self._state.kept
            machine = None if kept is None else kept.loaded.machine
            self._become(states.faulty(self._state, fault_said(error, key, control, machine)))


def _fault(problem: str, remedy: str) -> FaultyInput:
    return FaultyInput([Fault("", None, "", problem, remedy)])


_desks: list[Desk] = []


def open_desk(store: CaseStore | None = None) -> Desk:
    """The page for a notebook; one that was opened so before is closed.

    store: the one of this user if None.
    """
    while _desks:
        _desks.pop().close()
    desk = Desk(store)
    _desks.append(desk)
    return desk
