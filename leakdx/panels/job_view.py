"""A job as the page shows it: what was seen last of each place, and the whole timeline."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypedDict

from leakdx.case.history import effective, standing_of
from leakdx.case.model import (
    Context,
    Correct,
    Done,
    Event,
    Job,
    Renewal,
    SealReading,
    SealState,
    Sign,
    Wash,
    Withdraw,
    Yes,
    ZoneReading,
    ZoneState,
    entry_kind,
)
from leakdx.case.timeline import NEW_START
from leakdx.machine.model import Machine
from leakdx.panels.entry_words import EntryWords
from leakdx.panels.shapes import Named
from leakdx.panels.undoing import groups_of, redo_of, taken_back, undo_of
from leakdx.store.changes import plain
from leakdx.store.store import Filing, Kept


class ZoneSeen(TypedDict):
    """What was seen last of a zone.  old: it has been washed since."""

    state: str
    fluid: str | None
    age: str | None
    said: str
    entry: int
    old: bool


class SealSeen(TypedDict):
    """What was seen last of a seal point.  old: it was renewed, worked on or washed since."""

    state: str
    said: str
    entry: int
    old: bool


class SignSeen(TypedDict):
    """What was last said of a sign, of one fluid or of none."""

    sign: str
    fluid: str | None
    value: str
    said: str
    entry: int


class Line(TypedDict):
    """One entry.  counts: False where it was taken back or put right; why_not says which."""

    entry: int
    kind: str
    said: str
    at: str | None
    note: str
    counts: bool
    why_not: str | None
    data: dict[str, Any]


class TakeBack(TypedDict):
    """What one tap takes back; entry: the first of the entries."""

    entry: int
    entries: list[int]
    said: str


class JobView(TypedDict):
    """One job."""

    id: str
    title: str
    head: int
    machine: Named
    zones: dict[str, ZoneSeen]
    seals: dict[str, SealSeen]
    signs: list[SignSeen]
    timeline: list[Line]
    undo: TakeBack | None
    redo: TakeBack | None
    conditions: dict[str, Any]
    costs: dict[str, Any] | None


def job_view(kept: Kept, filings: Sequence[Filing]) -> JobView:
    """A job as it is in the store; ``filings``: all that was ever written to it."""
    job, machine = kept.loaded.job, kept.loaded.machine
    words = EntryWords(machine)
    counting = effective(job)
    timeline, groups = job.timeline, groups_of(filings)
    redo = redo_of(timeline, groups)
    conditions = plain(job.conditions) | {"said": words.conditions(job.conditions)}
    return {
        "id": job.id,
        "title": job.name or job.id.replace("_", " "),
        "head": kept.head,
        "machine": {"id": machine.id, "name": machine.name},
        "zones": _zones(counting, words),
        "seals": _seals(counting, words, machine),
        "signs": _signs(counting, words),
        "timeline": list(_lines(job, words)),
        "undo": _take_back(undo_of(timeline, groups), timeline, words),
        "redo": _again(redo, timeline, words),
        "conditions": conditions,
        "costs": None if job.costs is None else plain(job.costs),
    }


Counting = Sequence[tuple[int, Done]]


def _zones(counting: Counting, words: EntryWords) -> dict[str, ZoneSeen]:
    seen: dict[str, ZoneSeen] = {}
    for place, event in counting:
        if isinstance(event, ZoneReading) and event.state is not ZoneState.NOT_LOOKED:
            seen[event.zone] = {
                "state": event.state.value,
                "fluid": event.fluid,
                "age": None if event.age is None else event.age.value,
                "said": words.reading(event),
                "entry": place + 1,
                "old": False,
            }
        elif isinstance(event, Wash):
            for zone in seen if event.wash == "whole" else set(event.wash) & seen.keys():
                seen[zone] = seen[zone] | {"old": True}
    return seen


def _seals(counting: Counting, words: EntryWords, machine: Machine) -> dict[str, SealSeen]:
    zones = {s.id: frozenset(s.zones) for s in machine.seal_points}
    seen: dict[str, SealSeen] = {}
    for place, event in counting:
        if isinstance(event, SealReading) and event.state is not SealState.NOT_LOOKED:
            seen[event.seal_point] = {
                "state": event.state.value,
                "said": words.reading(event),
                "entry": place + 1,
                "old": False,
            }
            continue
        for seal in _renewed_by(event, zones):
            if seal in seen:
                seen[seal] = seen[seal] | {"old": True}
    return seen


def _renewed_by(event: Done, zones: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Seal points of which an older reading no longer tells how they look now."""
    match event:
        case Renewal(renew=seal):
            yield seal
        case Context(context=kind, seal_point=str() as seal) if kind in NEW_START:
            yield seal
        case Wash(wash="whole"):
            yield from zones
        case Wash(wash=washed):
            yield from (seal for seal, own in zones.items() if own <= set(washed))


def _signs(counting: Counting, words: EntryWords) -> list[SignSeen]:
    seen: dict[tuple[str, str | None], SignSeen] = {}
    for place, event in counting:
        if isinstance(event, Sign) and event.value is not Yes.NOT_LOOKED:
            seen[event.sign.value, event.fluid] = {
                "sign": event.sign.value,
                "fluid": event.fluid,
                "value": event.value.value,
                "said": words.sign(event),
                "entry": place + 1,
            }
    return list(seen.values())


def _lines(job: Job, words: EntryWords) -> Iterator[Line]:
    reasons = _why_not(job.timeline)
    for place, event in enumerate(job.timeline):
        data = plain(event)
        yield {
            "entry": place + 1,
            "kind": entry_kind(event) or "",
            "said": words.event(event, job.timeline[:place]),
            "at": event.at,
            "note": event.note,
            "counts": place not in reasons,
            "why_not": reasons.get(place),
            "data": data,
        }


def _why_not(timeline: Sequence[Event]) -> dict[int, str]:
    """Places of the entries that do not count as they stand, and why not."""
    alive = standing_of(timeline)
    standing = [(place, event) for place, event in enumerate(timeline) if alive[place]]
    reasons: dict[int, str] = {}
    put_right: dict[int, int] = {}
    for place, event in standing:
        if isinstance(event, Correct):
            # Of several corrections of one entry only the last counts.
            for older in (event.correct - 1, put_right.get(event.correct, -1)):
                if older >= 0:
                    reasons[older] = f"put right by entry {place + 1}"
            put_right[event.correct] = place
    for place, event in standing:
        if isinstance(event, Withdraw):
            reasons[event.withdraw - 1] = f"taken back by entry {place + 1}"
    for number, place in put_right.items():
        if not alive[number - 1]:
            reasons[place] = f"entry {number} was taken back"
    return reasons


def _take_back(
    entries: Sequence[int], timeline: Sequence[Event], words: EntryWords
) -> TakeBack | None:
    if not entries:
        return None
    said = words.event(timeline[entries[0] - 1], timeline[: entries[0] - 1])
    more = f" and {len(entries) - 1} more" if len(entries) > 1 else ""
    return {"entry": entries[0], "entries": list(entries), "said": f"{said}{more}"}


def _again(
    withdrawals: Sequence[int], timeline: Sequence[Event], words: EntryWords
) -> TakeBack | None:
    """The withdrawals to be withdrawn; said: what would count again."""
    found = _take_back(list(taken_back(timeline, withdrawals)), timeline, words)
    if found is None:
        return None
    return {"entry": withdrawals[0], "entries": list(withdrawals), "said": found["said"]}
