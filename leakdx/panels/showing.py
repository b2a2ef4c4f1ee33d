"""The state as the traits of the widget: plain data, worked out anew only where it changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from leakdx.advice.ranking import Ranking
from leakdx.machine.model import Machine
from leakdx.panels.entry_words import EntryWords
from leakdx.panels.job_view import job_view
from leakdx.panels.state import NoticeSaid, State
from leakdx.store.changes import ConditionsSet, CostsSet, Entered, Renamed
from leakdx.store.store import Filing

ValueOf = Callable[[State], Any]
SHOWN: Mapping[str, ValueOf] = {
    "job": lambda s: None if s.kept is None else job_view(s.kept, s.filings),
    "ranking": lambda s: s.ranking,
    "answers": lambda s: dict(s.answers),
    "work": lambda s: list(s.work),
    "faults": lambda s: list(s.faults),
    "notices": lambda s: list(s.notices),
    "saved": lambda s: list(s.saved),
}
# What of the state each trait hangs on.
_HANGS_ON: Mapping[str, str] = {"job": "kept"}


def changed(old: State | None, new: State) -> Iterator[tuple[str, ValueOf]]:
    """The traits that another state changes, with what gives their new values."""
    for name, value_of in SHOWN.items():
        part = _HANGS_ON.get(name, name)
        if old is None or getattr(old, part) is not getattr(new, part):
            yield name, value_of


def notices_of(
    filings: Iterable[Filing], own: str, machine: Machine, state: State
) -> list[NoticeSaid]:
    """What other windows wrote, in words; ``own``: the window that needs not be told."""
    words = EntryWords(machine)
    timeline = () if state.kept is None else state.kept.loaded.job.timeline
    everything = [f for f in state.filings if isinstance(f.change, Entered)]
    place = {f.seq: n for n, f in enumerate(everything)}
    notices: list[NoticeSaid] = []
    for filing in filings:
        if filing.window == own:
            continue
        match filing.change:
            case Entered():
                n = place[filing.seq]
                said = f"Another window added: {words.event(timeline[n], timeline[:n])}."
            case ConditionsSet():
                said = "Another window changed how the machine stood and ran."
            case CostsSet():
                said = "Another window changed the prices."
            case Renamed(title=title):
                said = f"Another window gave the job another title: {title}."
        notices.append({"id": f"written-{filing.seq}", "said": said})
    return notices


def as_quick(ranking: Ranking) -> Ranking:
    """A quick ranking has searched for no sets, so it says nothing of a search cut short."""
    return replace(ranking, sets=(), sets_proven=True)
