"""What the desk knows at one moment: frozen, replaced whole by pure functions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypedDict, cast

from leakdx.panels.answers_ranking import no_ranking
from leakdx.panels.messages import ENDS, Report
from leakdx.panels.shapes import FaultSaid, FirmAnswer, RankingAnswer, WorkLine
from leakdx.store.store import Filing, Kept

if TYPE_CHECKING:
    from leakdx.advice.leaning import Full
    from leakdx.advice.swift import Swift

MOST_SAVED = 100
MOST_FAULTS = 30
MOST_NOTICES = 20
MOST_HEADS = 200
# Answers that stay, with the head they were asked at, until a newer one of their kind comes.
KEPT_ANSWERS = ("next", "why", "ahead", "cure", "sheet")
Answer = Mapping[str, Any]


class NoticeSaid(TypedDict):
    """Something that others did."""

    id: str
    said: str


@dataclass(frozen=True)
class State:
    """kept: the open job, None on the start screen.  filings: all that was written to it.

    heads: at which something was asked for the open job.  askers: who asked for each errand last,
    as key and control.  swift: ranks the open job at once, None where nothing that fits is there.
    full: the last full ranking of the open job, some entries earlier perhaps.
    """

    kept: Kept | None = None
    filings: tuple[Filing, ...] = ()
    swift: Swift | None = None
    full: Full | None = None
    ranking: RankingAnswer | None = None
    answers: Mapping[str, Answer | None] = field(
        default_factory=lambda: MappingProxyType(dict.fromkeys(KEPT_ANSWERS))
    )
    work: tuple[WorkLine, ...] = ()
    heads: frozenset[int] = frozenset()
    askers: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    faults: tuple[FaultSaid, ...] = ()
    notices: tuple[NoticeSaid, ...] = ()
    saved: tuple[str, ...] = ()

    @property
    def head(self) -> int | None:
        """Of the open job."""
        return None if self.kept is None else self.kept.head

    @property
    def job_id(self) -> str | None:
        """Of the open job."""
        return None if self.kept is None else self.kept.loaded.job.id


def opened(state: State, kept: Kept, filings: tuple[Filing, ...]) -> State:
    """Another job is open; what was told of the one before is gone."""
    return State(kept=kept, filings=filings, saved=state.saved, faults=state.faults)


def closed(state: State) -> State:
    """No job is open."""
    return State(saved=state.saved, faults=state.faults)


def moved_on(state: State, kept: Kept, more: Iterable[Filing]) -> State:
    """More was written to the open job."""
    return replace(state, kept=kept, filings=(*state.filings, *more))


def acknowledged(state: State, key: str, control: str) -> State:
    """A message was done; what was wrong at that control before is settled."""
    saved = (*(k for k in state.saved if k != key), key)[-MOST_SAVED:]
    faults = tuple(f for f in state.faults if f["control"] != control)
    return replace(state, saved=saved, faults=faults)


def faulty(state: State, fault: FaultSaid) -> State:
    """Something could not be done; a newer fault stands in the place of one of the same key."""
    others = tuple(f for f in state.faults if f["key"] != fault["key"])
    return replace(state, faults=(*others, fault)[-MOST_FAULTS:])


def dismissed(state: State, key: str) -> State:
    """A fault or a notice was read."""
    return replace(
        state,
        faults=tuple(f for f in state.faults if f["key"] != key),
        notices=tuple(n for n in state.notices if n["id"] != key),
    )


def noticed(state: State, notices: Iterable[NoticeSaid]) -> State:
    """Others have done something; told once each."""
    there = {n["id"] for n in state.notices}
    new = tuple(n for n in notices if n["id"] not in there)
    return replace(state, notices=(*state.notices, *new)[-MOST_NOTICES:])


def ranked(state: State, ranking: RankingAnswer) -> State:
    """A quick ranking; it never stands in the place of a newer one, nor of a fine one as new."""
    old = state.ranking
    if ranking["head"] != state.head:
        return state
    if old is not None and old["head"] == ranking["head"] and old["fine"] and old["fault"] is None:
        return state
    return replace(state, ranking=ranking)


def asking(state: State, line: WorkLine, asker: tuple[str, str] | None = None) -> State:
    """Something is to be worked out; one of that name gives way."""
    others = tuple(w for w in state.work if w["errand"] != line["errand"])
    askers = state.askers if asker is None else {**state.askers, line["errand"]: asker}
    heads = frozenset(sorted(state.heads | {line["head"]})[-MOST_HEADS:])
    return replace(state, work=(*others, line), heads=heads, askers=askers)


def at_rest(state: State, errand: str, head: int | None = None) -> State:
    """Nothing is worked out by that name any more; head: only what was asked at that head."""
    work = tuple(w for w in state.work if w["errand"] != errand or head not in (None, w["head"]))
    return replace(state, work=work)


def reported(state: State, report: Report) -> State:
    """A worker told how far it is, or brought an answer."""
    if report.head not in state.heads:
        # It was asked for another job, or before this one was opened anew.
        return state
    if report.status == "running":
        return replace(state, work=tuple(_running(line, report) for line in state.work))
    if report.status == "answer":
        return _answered(state, report)
    if report.status == "failed":
        state = _failed(state, report)
    return at_rest(state, report.name, report.head) if report.status in ENDS else state


def _running(line: WorkLine, report: Report) -> WorkLine:
    if (line["errand"], line["head"]) != (report.name, report.head):
        return line
    return {
        **line,
        "status": "running",
        "said": report.said,
        "done": report.done,
        "of": report.of,
    }


def _answered(state: State, report: Report) -> State:
    if report.part == "ranking":
        if report.head != state.head:
            return state
        return replace(state, ranking=cast("RankingAnswer", report.answer))
    if report.part == "firm":
        return _firm(state, cast("FirmAnswer", report.answer))
    if report.part in KEPT_ANSWERS:
        answer = cast("Answer", report.answer)
        shown = state.answers[report.part]
        if shown is not None and shown["head"] > answer["head"]:
            return state
        return replace(state, answers={**state.answers, report.part: answer})
    return state


def _firm(state: State, firm: FirmAnswer) -> State:
    """The ranking with its intervals; those of another ranking are none of its."""
    ranking = state.ranking
    if ranking is None or not ranking["fine"] or ranking["head"] != firm["head"]:
        return state
    ends = {one["seal"]: one for one in firm["seals"]}
    rows = [
        row | {"low": ends[row["seal"]]["low"], "high": ends[row["seal"]]["high"]}
        if row["seal"] in ends
        else row
        for row in ranking["rows"]
    ]
    notes = [*ranking["notes"], firm["said"]] if firm["said"] else ranking["notes"]
    return replace(state, ranking={**ranking, "rows": rows, "notes": notes})


def _failed(state: State, report: Report) -> State:
    trouble = report.error or {"said": "It could not be worked out.", "details": ""}
    follows = report.name in ("settle", "ready")
    if follows and report.head != state.head:
        # What follows every entry was asked for anew since.
        return state
    old = state.ranking
    if report.name == "settle" and (old is None or old["head"] != report.head):
        return replace(state, ranking=no_ranking(report.head, trouble))
    if report.name == "settle" and old is not None and old["fault"] is not None:
        return state
    key, control = state.askers.get(report.name, (report.name, "ranking"))
    return faulty(state, {"key": key, "control": control, **trouble})


def with_swift(state: State, swift: Swift) -> State:
    """The open job can be ranked at once; another that was to do so is not waited for."""
    return at_rest(replace(state, swift=swift), "ready")


def with_full(state: State, full: Full) -> State:
    """What quick rankings lean on from here on."""
    return replace(state, full=full)


def without_swift(state: State) -> State:
    """What there was does not fit the job any more."""
    return replace(state, swift=None)
